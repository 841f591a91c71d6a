"""What came of checks on training cards, as pages."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.records.canonical import digest
from app.records.kept import FIRST, SECOND
from app.records.training_events import CompetencyReviewed
from app.reports.shown_fields import EVERYTHING, LINE_END
from app.review.competency import Competency, Missed
from app.review.intervals import wilson
from app.web.models.check import Head, head_of
from app.words.checking import spell
from app.words.errors import ERRORS
from app.words.names import SEVERITIES, SOURCES, finding_field_words
from app.words.study import share_with_interval
from app.words.training import (
    caught_of_words,
    caught_words,
    median_time_words,
    median_words,
    took_words,
    wrong_words,
)
from app.workflow.training_outcome import Outcome, Told
from app.workflow.training_record import EverybodyTrained, OneTrained, OwnTraining, SignedEdition


@dataclass(frozen=True, kw_only=True)
class Stood:
    """What stood on the cards in one row of a comparison, source by source."""

    label: str
    on: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class NurseTold:
    """One of the two: what was caught, blank where nothing can be said of it, and how fast."""

    name: str
    caught: str
    took: str


@dataclass(frozen=True, kw_only=True)
class OutcomePage:
    """The page; without cards there is nothing on it."""

    head: Head
    number: int
    wrong: str
    stood: tuple[Stood, ...]
    nurses: tuple[NurseTold, ...]
    engine: str
    found: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Line:
    """One check on cards, of one of its two."""

    check: str
    on: datetime
    number: int
    wrong: str
    caught: str
    took: str


@dataclass(frozen=True, kw_only=True)
class Edition:
    """One signed record: when its person signed it, and which trainer when; `digest` is of what is signed.

    `waits`: for a trainer; `has_file`: its sealed PDF is there.
    """

    edition: int
    digest: str
    signed_at: datetime
    by: str
    by_at: datetime | None
    has_file: bool
    share: str
    lines: tuple[Line, ...]

    @property
    def waits(self) -> bool:
        """Whether no trainer has signed it yet."""
        return self.by_at is None


@dataclass(frozen=True, kw_only=True)
class OwnPage:
    """All of the own checks, what they come to, the signed records, and what would be signed now."""

    person: str
    share: str
    median: str
    lines: tuple[Line, ...]
    editions: tuple[Edition, ...]
    digest: str


@dataclass(frozen=True, kw_only=True)
class OnePage:
    """One person's, for a trainer: `to_sign` is the record that waits, if any; `since` is what came since."""

    person: str
    name: str
    staff_number: str
    share: str
    median: str
    editions: tuple[Edition, ...]
    to_sign: Edition | None
    since: tuple[Line, ...]
    is_own: bool


@dataclass(frozen=True, kw_only=True)
class PersonLine:
    """One person among all who trained."""

    person: str
    name: str
    checks: int
    share: str
    took: str
    waits: bool


@dataclass(frozen=True, kw_only=True)
class EverybodyPage:
    """Who trained, and which kinds of error are missed how often."""

    checks: int
    people: tuple[PersonLine, ...]
    missed: tuple[tuple[str, str], ...]


def own_page(own: OwnTraining, person: str) -> OwnPage:
    """The page of whoever looks."""
    return OwnPage(
        person=person,
        share=_share(own.competency),
        median=median_words(own.competency),
        lines=_lines(own.competency),
        editions=tuple(map(_edition, own.editions)),
        digest=own.to_sign.digest if own.to_sign else "",
    )


def one_page(one: OneTrained) -> OnePage:
    """One person's, for a trainer."""
    editions = tuple(map(_edition, one.editions))
    to_sign = editions[0] if editions and editions[0].waits else None
    signed = {each.check for each in to_sign.lines} if to_sign else set()
    return OnePage(
        person=one.person.id,
        name=one.person.printed_name,
        staff_number=one.person.staff_number,
        share=_share(one.competency),
        median=median_words(one.competency),
        editions=editions,
        to_sign=to_sign,
        since=tuple(each for each in _lines(one.competency) if each.check not in signed),
        is_own=one.is_own,
    )


def everybody_page(found: EverybodyTrained) -> EverybodyPage:
    """Everybody's, for a trainer."""
    return EverybodyPage(
        checks=found.checks,
        people=tuple(
            PersonLine(
                person=each.person,
                name=each.printed_name,
                checks=len(each.competency.lines),
                share=caught_of_words(each.competency),
                took=median_time_words(each.competency),
                waits=each.waits,
            )
            for each in found.people
        ),
        missed=tuple(
            (
                ERRORS[each.error],
                _missed(each),
            )
            for each in found.missed
        ),
    )


def _missed(each: Missed) -> str:
    return f"{each.missed} of {each.read}: {share_with_interval(each.missed, each.read)}"


def _share(of: Competency) -> str:
    if of.caught is None:
        return caught_of_words(of)
    lies = wilson(of.caught).times(100)
    between = f"between {lies.low:.0f} and {lies.high:.0f}\N{NO-BREAK SPACE}%"
    return f"{caught_of_words(of)}. So many sets alone say: {between} of all such errors."


def _lines(of: Competency) -> tuple[Line, ...]:
    return tuple(
        Line(
            check=each.check,
            on=each.on,
            number=each.number,
            wrong=wrong_words(each),
            caught=caught_words(each),
            took=took_words(each),
        )
        for each in of.lines
    )


def _edition(each: SignedEdition) -> Edition:
    reviewed = each.reviewed
    event = reviewed.event if reviewed else None
    told = each.competency
    return Edition(
        edition=each.edition,
        digest=digest(each.content),
        signed_at=each.signed.at,
        by=event.printed_name if isinstance(event, CompetencyReviewed) else "",
        by_at=reviewed.at if reviewed else None,
        has_file=each.has_file,
        share=caught_of_words(told),
        lines=_lines(told),
    )


def outcome_page(told: Told) -> OutcomePage:
    """The page for whoever looks."""
    head, outcome = head_of(told.check), told.outcome
    if outcome is None:
        return OutcomePage(head=head, number=0, wrong="", stood=(), nurses=(), engine="", found=())
    return OutcomePage(
        head=head,
        number=outcome.number,
        wrong=ERRORS[outcome.error] if outcome.error else "",
        stood=tuple(_stood(outcome)),
        nurses=tuple(
            NurseTold(
                name=head.nurse(slot).name,
                caught=_caught_words(outcome, slot),
                took=_took_words(outcome, slot),
            )
            for slot in (FIRST, SECOND)
            if slot in outcome.joined
        ),
        engine=_engine_words(outcome),
        found=tuple(
            (SEVERITIES[each.severity], finding_field_words(each.field), each.says) for each in outcome.found
        ),
    )


def _stood(outcome: Outcome) -> Iterator[Stood]:
    """Of what is wrong, what each card said."""
    for shown in EVERYTHING:
        if shown.row.about & set(outcome.fields):
            said = (
                (SOURCES[source], shown.said(outcome.stood[source]))
                for source in shown.row.sources
                if source in outcome.stood
            )
            yield Stood(
                label=shown.row.label,
                on=tuple((source, text.replace(LINE_END, "; ")) for source, text in said if text),
            )


def _caught_words(outcome: Outcome, slot: int) -> str:
    if outcome.error is None:
        return ""
    if not outcome.caught:
        return "Nothing can be said of it: reading 1 of both was never compared."
    if outcome.caught[slot]:
        return "Caught it: this reading alone shows it."
    return "Did not catch it: this reading alone does not show it."


def _took_words(outcome: Outcome, slot: int) -> str:
    if slot not in outcome.seconds:
        return "Did not hand in reading 1."
    took = spell(outcome.seconds[slot])
    alone = spell(outcome.seconds[slot] - outcome.joined[slot])
    joined = f", {alone} after joining" if outcome.joined[slot] else ""
    return f"Handed in {took} after the check was opened{joined}."


def _engine_words(outcome: Outcome) -> str:
    if not outcome.seconds or len(outcome.seconds) < SECOND:
        return "Reading 1 of both was never compared."
    if outcome.error is None:
        stops = any(words == SEVERITIES["stop"] for words in (SEVERITIES[e.severity] for e in outcome.found))
        return (
            "Nothing was wrong, and the comparison stopped all the same: somebody read or typed otherwise."
            if stops
            else "Nothing was wrong, and nothing was stopped."
        )
    return "It stopped on what was wrong." if outcome.stopped else "It did not stop on what was wrong."
