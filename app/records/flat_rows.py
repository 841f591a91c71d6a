"""Make the flat rows of a check from its state: what stands in `kept_rows`, and no value that was read."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.also_read import DEVICE_SERIAL
from app.records.events import ClearanceLapsed, NextReadingOpened, Signed
from app.records.followup import Found, Severity, findings_in, sources_of
from app.records.independence import Independence, of_round
from app.records.kept import (
    FIRST,
    LETTER_OF,
    LETTERS,
    PRIMING,
    SECOND,
    SOURCES,
    Access,
    Entry,
    FrozenRecord,
    KeptComparison,
)
from app.records.kept_rows import EndedRow, FindingRow, RowsOfCheck, SettledRow
from app.records.known import known_in
from app.records.settled import How, Settled, later_round, settle
from app.records.sources import Source
from app.records.state import CheckState, Round


@dataclass(frozen=True, kw_only=True)
class Facts:
    """All that the rows of a check are made from; `patient` is a pseudonym.

    `entries` are its own, `looks` are those of anybody at other values of its infusion. `versions` are those
    of policy and library, `pseudonyms` stand by slot.
    """

    state: CheckState
    comparisons: Sequence[KeptComparison]
    entries: Sequence[Entry]
    frozen: Sequence[FrozenRecord]
    looks: Sequence[Access]
    versions: Mapping[str, str]
    invented: bool
    pseudonyms: Mapping[int, str]
    patient: str = ""


@dataclass(frozen=True, kw_only=True)
class _Judged:
    """A pair of readings that was compared, or a primed volume that was judged beside the round `beside`.

    `by` is the letter of who read that volume; how independent two were is said of a pair alone.
    """

    subject: str
    number: int
    at: datetime
    findings: tuple[Found, ...]
    beside: int
    independence: Independence | None = None
    by: str = ""


def rows_of_check(facts: Facts) -> RowsOfCheck:
    """Every row of a check as it stands."""
    judged = (*_pairs(facts), *_volumes(facts))
    findings = _finding_rows(facts, judged)
    if not facts.state.has_ended:
        return RowsOfCheck(findings=findings)
    settled = _settled_rows(facts.state, judged)
    return RowsOfCheck(findings=findings, settled=settled, ended=_ended_row(facts, judged))


def _pairs(facts: Facts) -> list[_Judged]:
    return [
        _Judged(
            subject=SOURCES,
            number=each.number,
            at=at,
            findings=each.findings,
            beside=each.number,
            independence=_graded(facts, each, at),
        )
        for each, at in _compared(facts.state)
    ]


def _volumes(facts: Facts) -> list[_Judged]:
    return [
        _Judged(
            subject=PRIMING,
            number=each.round,
            at=each.at,
            findings=findings_in(each.told),
            beside=each.opened["against"],
            by=each.opened["by"],
        )
        for each in sorted((one for one in facts.comparisons if one.subject == PRIMING), key=_round_of)
    ]


def settled_in_state(state: CheckState, each: Round, found: Found) -> Settled:
    """How a finding of one round came to rest, as far as a check has come."""
    exempt = (one.at for one in state.exemptions if one.finding == found.key)
    return settle(
        found,
        exempt=next(exempt, None),
        acknowledged={
            one.slot: one.at for one in state.acknowledgements if one.finding == found.key
        }.values(),
        later=[
            later_round(
                one.number, one.compared_at, touched=one.touched, findings=one.findings, outcome=one.outcome
            )
            for one in state.rounds
            if one.number > each.number and one.compared_at is not None
        ],
    )


def _finding_rows(facts: Facts, judged: Iterable[_Judged]) -> tuple[FindingRow, ...]:
    """Those of each, in the order in which they were found."""
    rows: list[FindingRow] = []
    known: set[str] = set()
    for each in judged:
        rows += [
            _finding_row(facts, each, number=number, found=found, repeated=found.key in known)
            for number, found in enumerate(each.findings, start=1)
        ]
        known |= {found.key for found in each.findings}
    return tuple(rows)


def _finding_row(facts: Facts, each: _Judged, *, number: int, found: Found, repeated: bool) -> FindingRow:
    check, graded = facts.state.check, each.independence
    return FindingRow(
        check=check.id,
        subject=each.subject,
        round=each.number,
        number=number,
        infusion=check.infusion,
        unit=check.unit,
        bed=check.bed,
        kind=check.kind,
        drug=_drug(facts, each.beside),
        compared_at=each.at,
        severity=found.severity,
        code=found.code,
        field=found.field,
        about=found.about,
        clinician=found.clinician,
        group=found.group,
        origin=found.origin,
        slip=found.slip,
        factor=found.factor,
        repeated=repeated,
        independence=graded.grade.code if graded else "",
        earlier_look=graded.earlier_look if graded else False,
        **_pseudonyms(facts),
    )


def _settled_rows(state: CheckState, judged: Sequence[_Judged]) -> tuple[SettledRow, ...]:
    volumes = [each for each in judged if each.subject == PRIMING]
    rounds = {each.number: each for each, _ in _compared(state)}
    return tuple(
        _settled_volume(state, each, (number, found), volumes)
        if each.subject == PRIMING
        else _settled_pair(state, each, (number, found), rounds[each.number])
        for each in judged
        for number, found in enumerate(each.findings, start=1)
    )


def _settled_pair(state: CheckState, each: _Judged, placed: tuple[int, Found], current: Round) -> SettledRow:
    _, found = placed
    settled = settled_in_state(state, current, found)
    acknowledged = [one for one in state.acknowledgements if one.finding == found.key]
    reasons = {
        slot: " ".join(one.reason for one in acknowledged if one.slot == slot) for slot in (FIRST, SECOND)
    }
    opened_by = next((each.opened_by for each in state.rounds if each.number == settled.round), "")
    by = {state.slot_of(opened_by)} if settled.round else {one.slot for one in acknowledged}
    letters = "".join(letter for slot, letter in LETTER_OF.items() if slot in by)
    return _settled_row(state, each, placed, settled, by=letters, reasons=reasons)


def _settled_volume(
    state: CheckState, each: _Judged, placed: tuple[int, Found], volumes: Iterable[_Judged]
) -> SettledRow:
    """A volume does not stand while it is stopped; beside a caution it stands, and both are told."""
    _, found = placed
    later = {one.number: one for one in volumes if one.number > each.number}
    settled = settle(
        found,
        exempt=None,
        acknowledged=(),
        later=[
            later_round(one.number, one.at, touched=sources_of(found), findings=one.findings)
            for one in later.values()
        ],
    )
    if found.severity == Severity.CAUTION:
        settled = Settled(how=How.FOR_INFORMATION)
    by = later[settled.round].by if settled.round else ""
    return _settled_row(state, each, placed, settled, by=by, reasons={})


def _settled_row(  # one row
    state: CheckState,
    each: _Judged,
    placed: tuple[int, Found],
    settled: Settled,
    *,
    by: str,
    reasons: Mapping[int, str],
) -> SettledRow:
    return SettledRow(
        check=state.check.id,
        subject=each.subject,
        round=each.number,
        number=placed[0],
        unit=state.check.unit,
        compared_at=each.at,
        settled=settled.how.value,
        settled_at=settled.at,
        settled_in_round=settled.round or 0,
        settled_by=by,
        settled_outcome=settled.outcome,
        seconds_to_settle=int((settled.at - each.at).total_seconds()) if settled.at else None,
        reason_a=reasons.get(FIRST, ""),
        reason_b=reasons.get(SECOND, ""),
    )


def _ended_row(facts: Facts, judged: Iterable[_Judged]) -> EndedRow:
    state, check = facts.state, facts.state.check
    compared = _compared(state)
    graded = _graded(facts, *compared[-1]) if compared else None
    last = _last(facts)
    ended = next(each for each in reversed(facts.entries) if each.event.ends_a_check)
    return EndedRow(
        check=check.id,
        infusion=check.infusion,
        patient=facts.patient,
        kind=check.kind,
        unit=check.unit,
        bed=check.bed,
        drug=_drug(facts, compared[-1][0].number) if compared else "",
        device=_device(last) if last else "",
        opened_at=check.opened_at,
        joined_at=state.joined_at.get(SECOND),
        compared_at=compared[0][1] if compared else None,
        cleared_at=_cleared_at(facts.entries),
        started_at=state.started_at,
        ended_at=ended.at,
        how=state.phase.value,
        reason=state.abandoned or state.led_to,
        was_lapsed=any(isinstance(each.event, ClearanceLapsed) for each in facts.entries),
        rounds=len(state.rounds),
        rounds_voided=sum(bool(each.voided) for each in state.rounds),
        rereadings=sum(isinstance(each.event, NextReadingOpened) for each in facts.entries),
        **_found(judged),
        exceptions=len(state.exemptions),
        escalated=len(state.help),
        independence=graded.grade.code if graded else "",
        earlier_look=graded.earlier_look if graded else False,
        **_account(last.told if last else {}),
        edition=state.edition,
        format=str(facts.frozen[-1].told["format"]) if facts.frozen else "",
        invented=facts.invented,
        engine=last.engine if last else "",
        policy=facts.versions["policy"],
        library=facts.versions["library"],
        **_pseudonyms(facts),
    )


def _compared(state: CheckState) -> list[tuple[Round, datetime]]:
    return [(each, each.compared_at) for each in state.rounds if each.compared_at is not None]


def _last(facts: Facts) -> KeptComparison | None:
    of_sources = [each for each in facts.comparisons if each.subject == SOURCES]
    return max(of_sources, key=lambda each: each.round, default=None)


def _graded(facts: Facts, each: Round, compared_at: datetime) -> Independence:
    """A look after a round was compared made its readings no less independent."""
    looked = frozenset(look.person for look in facts.looks if look.at <= compared_at)
    return of_round(facts.state, each, looked)


def _drug(facts: Facts, number: int) -> str:
    """The drug that both read on the order, else on the device, else on the label; else the one in force."""
    kept = next(each for each in facts.comparisons if each.subject == SOURCES and each.round == number)
    read = (_read_alike(kept, source, "drug") for source in ("order", "device", "label"))
    case = kept.opened["case"]
    known = (case.get("order_of_record"), case.get("previous"), kept.told.get("syringe"))
    in_force = (str((each or {}).get("drug", "")) for each in known)
    return next((each for each in (*read, *in_force) if each), "")


def _device(last: KeptComparison) -> str:
    """The serial number that both read alike on the device."""
    of_device = (last.opened["answers"][letter].get(Source.DEVICE, {}) for letter in LETTERS)
    read = {plain_serial(each.get(DEVICE_SERIAL.name, "")) for each in of_device}
    return read.pop() if len(read) == 1 else ""


def plain_serial(text: str) -> str:
    """A serial number in capitals and digits alone, so that one device has one name."""
    return _letters_and_digits(text).upper()


def find_patient(comparisons: Iterable[KeptComparison]) -> str:
    """The identifier that both read alike last, or that of the infusion; blank where there is none."""
    last = max((each for each in comparisons if each.subject == SOURCES), key=_round_of, default=None)
    if last is None:
        return ""
    if any("patient" in entry for entry in last.opened["case"]["entries"]):
        return _read_alike(last, "patient", "identifier")
    return str(known_in(last.opened["case"], last.told).patient.get("identifier", ""))


def _read_alike(kept: KeptComparison, source: str, name: str) -> str:
    """What was read of a source, as the first nurse wrote it; blank where two read it otherwise, or none."""
    entries = kept.opened["case"]["entries"]
    read = [str(entry[source].get(name) or "") for entry in entries if source in entry]
    return read[0] if len({_letters_and_digits(each) for each in read}) == 1 else ""


def _letters_and_digits(text: str) -> str:
    """What tells two names apart: neither case nor spaces nor hyphens do."""
    return "".join(filter(str.isalnum, text.casefold()))


def _round_of(comparison: KeptComparison) -> int:
    return comparison.round


def _cleared_at(entries: Iterable[Entry]) -> datetime | None:
    """When both had signed one edition; the last of them counts."""
    signed: dict[int, list[datetime]] = {}
    for each in entries:
        if isinstance(each.event, Signed):
            signed.setdefault(each.event.edition, []).append(each.at)
    return max((max(times) for times in signed.values() if len(times) == len(LETTER_OF)), default=None)


def _found(judged: Iterable[_Judged]) -> dict[str, Any]:
    """How much was found in any round, or of a primed volume, each once."""
    found = {each.key: each.severity for one in judged for each in one.findings}
    weights = {"stops": Severity.STOP, "cautions": Severity.CAUTION, "notes": Severity.NOTE}
    return {name: sum(each == weight for each in found.values()) for name, weight in weights.items()}


def _account(told: Mapping[str, Any]) -> dict[str, Any]:
    """What the account came to, exact and in mL."""
    result = (told.get("account") or {}).get("result")
    if not result:
        return {"account": "", "account_left": "", "account_difference": ""}
    volume = result["infusion"]["volume"]
    return {
        "account": result["verdict"],
        **{
            f"account_{name}": volume[name]["exact"] if volume[name] else ""
            for name in ("left", "difference")
        },
    }


def _pseudonyms(facts: Facts) -> dict[str, Any]:
    return {
        f"pseudonym_{letter.lower()}": facts.pseudonyms.get(slot, "") for slot, letter in LETTER_OF.items()
    }
