"""Checks on training cards that have ended: one's own, everybody's for a trainer, and the signed records."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from weakref import WeakKeyDictionary

from app.base import Act
from app.people import Permission, Person, Role, may
from app.records.canonical import canonical, digest
from app.records.kept import Entry
from app.records.kept_people import KeptCompetency
from app.records.training_events import CardSetTaken, CompetencyReviewed, CompetencySigned
from app.records.visibility import Sight
from app.review.competency import (
    Competency,
    Holder,
    Missed,
    Trained,
    build_record,
    competency,
    missed_by_kind,
    read_record,
    record_of,
)
from app.site.installation import Site, is_for_training
from app.site.loading import load, rules_in_force
from app.storage import Reader, Store
from app.workflow.looking import Seen, note_access, see_in
from app.workflow.refusals import NotFound
from app.workflow.training_cards import sealed_cards
from app.workflow.training_outcome import Outcome, outcome_of


@dataclass(frozen=True, kw_only=True)
class SignedEdition:
    """A record that its person signed: the bytes, who signed when, and whether the sealed PDF is there."""

    record: str
    edition: int
    content: bytes
    signed: Entry
    reviewed: Entry | None
    has_file: bool

    @property
    def document(self) -> dict[str, Any]:
        """What was signed."""
        told: dict[str, Any] = json.loads(self.content)
        return told

    @property
    def competency(self) -> Competency:
        """What the checks in it come to."""
        return read_record(self.document)


@dataclass(frozen=True, kw_only=True)
class ToSign:
    """The bytes that somebody would sign now."""

    content: bytes

    @property
    def digest(self) -> str:
        """SHA-256 of them."""
        return digest(self.content)


@dataclass(frozen=True, kw_only=True)
class OwnTraining:
    """What a person's checks on cards come to, the records signed so far, the last first, and one to sign.

    There is none to sign where all that has ended is signed.
    """

    competency: Competency
    editions: tuple[SignedEdition, ...]
    to_sign: ToSign | None


@dataclass(frozen=True, kw_only=True)
class PersonTrained:
    """What one person's checks come to."""

    person: str
    printed_name: str
    competency: Competency
    waits: bool


@dataclass(frozen=True, kw_only=True)
class EverybodyTrained:
    """Who trained, by name, and which kinds of error were missed most often."""

    checks: int
    people: tuple[PersonTrained, ...]
    missed: tuple[Missed, ...]


@dataclass(frozen=True, kw_only=True)
class OneTrained:
    """One person's checks and records, for a trainer; `is_own`: it is the trainer's."""

    person: Person
    competency: Competency
    editions: tuple[SignedEdition, ...]
    is_own: bool


def own_training(site: Site, act: Act) -> OwnTraining | NotFound:
    """One's own checks on cards, the last first; a look at each, written down."""
    with site.store.read() as reader:
        own = own_in(site, reader, act)
    if isinstance(own, OwnTraining):
        note_access(site, act, *(each.check for each in own.competency.lines), what="training")
    return own


def own_in(site: Site, reader: Reader, act: Act) -> OwnTraining | NotFound:
    """The same where more is read or written besides."""
    person = reader.find_person(act.by.person)
    if not is_for_training(reader) or person is None:
        return NotFound()
    told = competency([line_of(slot, outcome) for slot, outcome in _own(site, reader, act)])
    editions = editions_of(reader, person.id)
    return OwnTraining(
        competency=told, editions=editions, to_sign=_to_sign(reader, act.now, person, told, editions=editions)
    )


def _to_sign(
    reader: Reader, now: datetime, person: Person, told: Competency, *, editions: tuple[SignedEdition, ...]
) -> ToSign | None:
    rules = rules_in_force(reader, now)
    document = build_record(
        told.lines,
        edition=len(editions) + 1,
        holder=Holder(person=person.id, printed_name=person.printed_name, staff_number=person.staff_number),
        site=rules.policy.site,
        zone=rules.policy.zone,
        invented=rules.are_invented,
    )
    is_signed = bool(editions) and editions[0].document["checks"] == document["checks"]
    return ToSign(content=canonical(document)) if told.lines and not is_signed else None


def editions_of(reader: Reader, person: str) -> tuple[SignedEdition, ...]:
    """The records that a person has signed, the last first."""
    record = record_of(person)
    reviewed = {
        each.event.edition: each
        for each in reader.entries_of_kind(CompetencyReviewed.kind)
        if isinstance(each.event, CompetencyReviewed) and each.event.record == record
    }
    found = (
        SignedEdition(
            record=record,
            edition=each.event.edition,
            content=each.event.document.encode(),
            signed=each,
            reviewed=by,
            has_file=by is not None and reader.find_competency_file(record, each.event.edition) is not None,
        )
        for each in reader.entries_of_kind(CompetencySigned.kind)
        if isinstance(each.event, CompetencySigned) and each.event.record == record
        for by in (reviewed.get(each.event.edition),)
    )
    return tuple(sorted(found, key=lambda each: -each.edition))


def everybody_trained(site: Site, act: Act, roles: frozenset[Role]) -> EverybodyTrained | NotFound:
    """What everybody's checks come to, for a trainer: of checks that have ended, and of no other."""
    with site.store.read() as reader:
        if not is_for_training(reader) or not may(roles, Permission.TRAIN):
            return NotFound()
        told = list(_of_everybody(site, reader, act.now))
        by_person: dict[str, list[Trained]] = {}
        for person, line in told:
            by_person.setdefault(person, []).append(line)
        names = reader.people_with(by_person)
        people = [
            PersonTrained(
                person=each,
                printed_name=names[each].printed_name,
                competency=competency(lines),
                waits=_waits(editions_of(reader, each)),
            )
            for each, lines in by_person.items()
        ]
    lines = [line for _, line in told]
    return EverybodyTrained(
        checks=len({each.check for each in lines}),
        people=tuple(sorted(people, key=lambda each: each.printed_name)),
        missed=missed_by_kind(lines),
    )


def one_trained(site: Site, act: Act, *, roles: frozenset[Role], person: str) -> OneTrained | NotFound:
    """One person's checks and records, for a trainer; a look at each check, written down."""
    with site.store.read() as reader:
        found = reader.find_person(person)
        if not is_for_training(reader) or not may(roles, Permission.TRAIN) or found is None:
            return NotFound()
        lines = [line for who, line in _of_everybody(site, reader, act.now, only=person) if who == person]
        editions = editions_of(reader, person)
    note_access(site, act, *(each.check for each in lines), what="training")
    return OneTrained(
        person=found, competency=competency(lines), editions=editions, is_own=person == act.by.person
    )


def find_file(
    site: Site, act: Act, *, roles: frozenset[Role], person: str, edition: int
) -> KeptCompetency | NotFound:
    """The sealed PDF of a record, for its person and for trainers."""
    with site.store.read() as reader:
        may_see = person == act.by.person or may(roles, Permission.TRAIN)
        if not is_for_training(reader) or not may_see:
            return NotFound()
        return reader.find_competency_file(record_of(person), edition) or NotFound()


def _waits(editions: Iterable[SignedEdition]) -> bool:
    """Whether the last record waits for a trainer's signature."""
    last = next(iter(editions), None)
    return last is not None and last.reviewed is None


def _own(site: Site, reader: Reader, act: Act) -> Iterator[tuple[int, Outcome]]:
    dealt = sealed_cards(reader)
    for check in _on_cards(reader):
        if act.by.person not in {each.person for each in reader.participants(check)}:
            continue
        seen = see_in(reader, act, check)
        if isinstance(seen, Seen) and seen.slot is not None and seen.sight is Sight.EVERYTHING:
            state, comparisons = seen.loaded.state, seen.loaded.comparisons
            outcome = outcome_of(site, reader, state, comparisons, dealt=dealt)
            if outcome is not None:
                yield seen.slot, outcome


# What each of the two came to, by check: once it has ended it stays as it is, and takes the engine to tell.
_Lines = tuple[tuple[str, Trained], ...]
_KNOWN: WeakKeyDictionary[Store, dict[str, _Lines]] = WeakKeyDictionary()


def _of_everybody(
    site: Site, reader: Reader, now: datetime, *, only: str = ""
) -> Iterator[tuple[str, Trained]]:
    """What each of the two came to in each check that has ended, the last first."""
    known, dealt = _KNOWN.setdefault(site.store, {}), sealed_cards(reader)
    for check in _on_cards(reader):
        if check not in known:
            people = {each.slot: each.person for each in reader.participants(check)}
            if only and only not in people.values():
                continue
            lines = _lines_of(site, reader, check, people, now=now, dealt=dealt)
            if lines is None:
                continue
            known[check] = lines
        yield from known[check]


def _lines_of(  # of which check, as of when, with what
    site: Site,
    reader: Reader,
    check: str,
    people: Mapping[int, str],
    *,
    now: datetime,
    dealt: Mapping[int, str],
) -> _Lines | None:
    """None before the check has ended."""
    loaded = load(reader, check, now)
    outcome = outcome_of(site, reader, loaded.state, loaded.comparisons, dealt=dealt) if loaded else None
    if outcome is None:
        return None
    return tuple((person, line_of(slot, outcome)) for slot, person in people.items())


def _on_cards(reader: Reader) -> Iterator[str]:
    """The checks that were done on cards, the last first."""
    return (each.check for each in reversed(reader.entries_of_kind(CardSetTaken.kind)))


def line_of(slot: int, outcome: Outcome) -> Trained:
    """What one of the two came to."""
    took = outcome.seconds.get(slot)
    return Trained(
        check=outcome.check,
        on=outcome.ended_at,
        number=outcome.number,
        error=outcome.error,
        caught=outcome.caught.get(slot),
        seconds=None if took is None else took - outcome.joined[slot],
    )
