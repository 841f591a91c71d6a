"""Compute again from what is stored: a commitment, a comparison, a record, and whether that may be signed."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from app.auditing.known_then import known_then
from app.auditing.verifying_contents import same_values
from app.judging.rounds import compared, priming_judged
from app.keys import RecordHeader, open_envelope, verify_record
from app.records import events
from app.records.canonical import canonical, digest
from app.records.document import Names
from app.records.followup import Found, Severity
from app.records.formats import RECORD
from app.records.kept import (
    LETTER_OF,
    PRIMING,
    SOURCES,
    A,
    B,
    Entry,
    FrozenRecord,
    HelpTaker,
    KeptCheck,
    KeptComparison,
    KeptFollowed,
    KeptPdf,
    KeptReading,
    KeptSignature,
    Participant,
)
from app.records.key_chain import KeyHistory, history_of
from app.records.kinds import Kind, kind_named
from app.records.known import Known
from app.records.names import NamesInLog, names_in_log
from app.records.reading import Answers, latest
from app.records.rules import Rules
from app.records.sealed import reading_context
from app.records.settled import findings_of
from app.records.steps import BASELINE, PRIMED_VOLUME, TAKEN_BACK
from app.records.ward_events import DrugTakenBack
from app.site.followed import find_followed
from app.site.installation import Site
from app.site.loading import (
    Loaded,
    folded,
    load,
    load_infusion,
)
from app.site.readings import open_reading
from app.site.record import document_of, is_handed_over, names_at
from app.storage import Reader


@dataclass(frozen=True, kw_only=True)
class Logged:
    """What the log says of people: how their keys came to count, and what they were called when."""

    keys: KeyHistory
    names: NamesInLog


@dataclass(frozen=True, kw_only=True)
class Stored:
    """Everything that is stored of one check."""

    site: Site
    loaded: Loaded
    entries: tuple[Entry, ...]
    known: Mapping[int, Known]
    participants: tuple[Participant, ...]
    readings: tuple[KeptReading, ...]
    frozen: tuple[FrozenRecord, ...]
    signatures: tuple[KeptSignature, ...]
    helpers: tuple[HelpTaker, ...]
    pdfs: Mapping[int, KeptPdf | None]
    followed: tuple[KeptFollowed, ...]
    log: Logged


def load_stored(site: Site, reader: Reader, check: str, *, now: datetime, log: Logged) -> Stored | None:
    """Everything of one check, beside what the log says of the people."""
    loaded = load(reader, check, now)
    if loaded is None:
        return None
    entries = reader.entries(check)
    return Stored(
        site=site,
        loaded=loaded,
        entries=entries,
        known=known_then(reader, loaded, entries, log.names),
        participants=reader.participants(check),
        readings=reader.readings(check),
        frozen=reader.frozen_records(check),
        signatures=reader.signatures(check),
        helpers=reader.help_takers(check),
        pdfs={edition: reader.find_pdf(check, edition) for edition in reader.pdf_editions(check)},
        followed=reader.followed(check),
        log=log,
    )


@dataclass(frozen=True, kw_only=True)
class _Then:
    """What was stored of a check when one edition of its record was frozen."""

    check: KeptCheck
    entries: tuple[Entry, ...]
    comparisons: tuple[KeptComparison, ...]
    names: Names
    rules: Rules


def logged(reader: Reader) -> Logged:
    """What the log says of the people."""
    return Logged(keys=history_of(reader.key_entries()), names=names_in_log(reader.naming_entries()))


def signed_as_stored(stored: Stored, signed: KeptSignature, document: bytes) -> bool:
    """Whether the log's key of this person signed these bytes, and said with them what the row says.

    A key counts that was confirmed, its confirmer's before it, and so on to the two who founded.
    """
    key = stored.log.keys.find_made(signed.kid)
    header = verify_record(signed.jws, document, key.public) if key else None
    return (
        key is not None
        and key.person == signed.person
        and stored.log.keys.leads_to_founding(signed.kid)
        and isinstance(header, RecordHeader)
        and header
        == RecordHeader(
            kid=signed.kid,
            user_id=signed.person,
            printed_name=signed.printed_name,
            signed_at=signed.signed_at,
            meaning=signed.meaning,
            record_id=signed.check,
            edition=signed.edition,
        )
    )


def commitment_of(site: Site, kept: KeptReading) -> str:
    """What the sealed content of a reading commits to."""
    context = reading_context(kept.check, kept.subject, kept.round, kept.person)
    return digest(open_envelope(site.key, context, kept.envelope))


def recomputed(stored: Stored, kept: KeptComparison) -> bool:
    """Whether a comparison is what its readings come to, to the last digit."""
    return _priming(stored, kept) if kept.subject == PRIMING else _sources(stored, kept)


def _priming(stored: Stored, kept: KeptComparison) -> bool:
    """The volume that one of the two read, judged again beside the round that stood then."""
    opened = kept.opened
    reads = [each for each in stored.readings if (each.subject, each.round) == (PRIMING, opened["reading"])]
    rounds = [
        each
        for each in stored.loaded.comparisons
        if (each.subject, each.round) == (SOURCES, opened["against"])
    ]
    if len(reads) != 1 or len(rounds) != 1:
        return False
    read, against = reads[0], rounds[0]
    volume = open_reading(stored.site, read)["priming"]["volume"]
    engine, case, result = priming_judged(volume, by=read.slot, reading=read.round, against=against)
    if kept.engine == engine:
        return (kept.case, kept.result) == (case, result)
    # An earlier engine may have said it in other words.
    told, made = kept.told, json.loads(result)
    same = all(told[name] == made[name] for name in ("within", "primed_drug"))
    return kept.case == case and same and told.get("engine", kept.engine) == kept.engine


def _sources(stored: Stored, kept: KeptComparison) -> bool:
    result, state = kept.told, stored.loaded.state
    current = next(each for each in state.rounds if each.number == kept.round)
    answers = {slot: _latest(stored, slot, kept.round) for slot in LETTER_OF}
    again = compared(
        state.kind,
        stored.loaded.rules,
        current,
        answers,
        known=stored.known[kept.round],
        salt=result.get("salt", ""),
    )
    engine, opened, made = again
    if kept.engine == engine:
        return (kept.case, kept.result) == (opened, made)
    # An earlier engine may have said it in other words: codes, severities and exact values count.
    return (
        engine != kept.engine == result["engine"]
        and json.loads(kept.case)["answers"] == json.loads(opened)["answers"]
        and same_values(result, json.loads(made))
    )


def _latest(stored: Stored, slot: int, number: int) -> Answers:
    """One clinician's latest values up to a round."""
    state = stored.loaded.state
    scopes = {
        each.number: each.scope
        for each in state.rounds
        if each.compared_at is not None and each.number <= number
    }
    mine = sorted(
        (
            each
            for each in stored.readings
            if each.subject == SOURCES and each.slot == slot and each.round in scopes
        ),
        key=lambda each: each.round,
    )
    return latest((scopes[each.round], open_reading(stored.site, each)) for each in mine)


def differing_in_record(reader: Reader, stored: Stored, record: FrozenRecord) -> Iterator[str]:
    """Where a record does not say what was stored when it was frozen: it is made again, byte for byte."""
    RECORD.version_of(record.told)
    if _made_again(reader, record, _then(reader, stored, record)) != record.document:
        yield "it is not, byte for byte, what it is made of"


def _then(reader: Reader, stored: Stored, record: FrozenRecord) -> _Then:
    """What was stored before it was frozen, and what people and unit were called then."""
    check = stored.loaded.state.check
    position = next(
        each.position
        for each in stored.entries
        if isinstance(each.event, events.RecordFrozen) and each.event.edition == record.edition
    )
    entries = tuple(each for each in stored.entries if each.position < position)
    known = {
        (each.event.subject, each.event.round) for each in entries if isinstance(each.event, events.Compared)
    }
    people = {
        *(each.person for each in stored.participants),
        *(each.by for each in entries if each.by),
        *(each.event.witness for each in entries if isinstance(each.event, DrugTakenBack)),
    }
    if is_handed_over(stored.loaded.state):
        people |= {each.by for each in reader.course(check.infusion) if each.by and each.position < position}
    return _Then(
        check=check,
        entries=entries,
        comparisons=tuple(each for each in stored.loaded.comparisons if (each.subject, each.round) in known),
        names=names_at(reader, check.unit, people, log=stored.log.names, position=position),
        rules=stored.loaded.rules,
    )


def _made_again(reader: Reader, record: FrozenRecord, then: _Then) -> bytes:
    """The newest format from what was stored; its sentences of caution are no facts, and stay as they are."""
    own = folded(then.check, then.entries, then.comparisons, rules=then.rules, now=record.at)
    # Who had looked before is asked of the whole infusion.
    loaded = replace(own, infusion=load_infusion(reader, then.check.infusion))
    return canonical(
        document_of(
            reader, loaded, record.edition, names=then.names, cautions=record.told.get("cautions", ())
        )
    )


def followed_again(reader: Reader, stored: Stored, kept: KeptFollowed) -> bytes | None:
    """What followed a record, made again from what is stored; None where its story had not ended by then."""
    told, check = kept.told, stored.loaded.state.check
    until = told["log"]["until"]
    frozen = next(each for each in stored.frozen if each.edition == kept.edition)
    so_far = (each for each in reader.entries_with_course(check) if each.position <= until)
    loaded = folded(
        check, tuple(so_far), stored.loaded.comparisons, rules=stored.loaded.rules, now=kept.issued_at
    )
    followed = find_followed(loaded, frozen)
    if followed is None:
        return None
    names = names_at(reader, check.unit, followed.people, log=stored.log.names, position=until)
    return canonical(followed.document(until=until, names=names, says=told["says"]))


def why_not_signable(document: Mapping[str, Any]) -> Iterator[str]:
    """Why a frozen record may not be signed, told from it alone; nothing when it may."""
    compared = [each for each in document["rounds"] if "comparison" in each]
    if not compared or compared[-1] != document["rounds"][-1]:
        yield "its last reading was not compared"
        return
    findings = findings_of(compared[-1])
    yield from _open_stops(document, findings)
    yield from _open_cautions(document, findings)
    kind = kind_named(document["check"]["kind"])
    if kind.plans:
        yield from _open_steps(document, kind)
    first, second = document["clinicians"]
    if first["person"] == second["person"]:
        yield "its two clinicians are one"


def _open_stops(document: Mapping[str, Any], findings: Iterable[Found]) -> Iterator[str]:
    exempt = {each["finding"] for each in document["exceptions"]}
    yield from (f"the stop {each.code} is open" for each in findings if each.is_open(exempt))


def _open_cautions(document: Mapping[str, Any], findings: Iterable[Found]) -> Iterator[str]:
    acknowledged = {(each["finding"], each["clinician"]) for each in document["acknowledgements"]}
    for each in findings:
        both = {(each.key, letter) for letter in LETTER_OF.values()}
        if each.severity == Severity.CAUTION and not both <= acknowledged:
            yield f"the caution {each.code} is not acknowledged by both"


def _open_steps(document: Mapping[str, Any], kind: Kind) -> Iterator[str]:
    judged = document.get("priming", ())
    primed = bool(judged) and judged[-1]["within"]
    for step in document["safety_steps"]["steps"]:
        parts = {part: step[part]["clinician"] for part in ("done", "verified") if part in step}
        # One did it and the other verified it, whichever of the two.
        by_both = parts.keys() == {"done", "verified"} and {*parts.values()} == {A, B}
        if not by_both or (step["entry"] == PRIMED_VOLUME and not primed):
            yield f"the step {step['id']} is not confirmed"
    asked = any(step["entry"] == BASELINE for step in document["safety_steps"]["steps"])
    if asked and document["baseline"] is None:
        yield "no baseline was observed"
    taken = {each["held_in"] for each in document["safety_steps"].get("taken_back", ()) if each["stands"]}
    wanted = any(step["entry"] == TAKEN_BACK for step in document["safety_steps"]["steps"])
    if wanted and taken != {*kind.portions}:
        yield "what was taken back is not written down"
