"""The frozen record in a form that people read: what is signed is what stands here."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.comparison.reasons import reasons_for
from app.records.fields import FIELDS
from app.records.followup import worst_first
from app.records.kept import A, B
from app.records.kept_orders import OrderOnRecord, find_compared
from app.records.settled import findings_of
from app.reports.steps import PrimingShown, priming_shown, taken_back_shown
from app.web.models.changed import ChangeRow, change_rows, numbers_in
from app.web.models.check import Head, head_of
from app.web.models.comparison import packs_of
from app.web.models.doses import Doses, doses_of
from app.web.models.findings import ShownFinding, shown
from app.web.models.in_short import in_short
from app.web.models.readings import NameRead, Readings, Row, names_of, readings, rows_of, written
from app.web.models.spine import spine_for
from app.web.models.stops import StopShown, stop_shown
from app.web.models.taken_back import TakenBackShown
from app.web.models.taking_back import taken_back_block
from app.words.checking import (
    code_words,
    not_judged_words,
    outcome_words,
    put_right_words,
    voided_words,
    why_words,
)
from app.words.independence import independence_words
from app.words.names import round_words
from app.words.screens import source_words
from app.words.titles import what_follows
from app.workflow.looking import RecordSeen, Seen

_DIGEST_SHOWN, _GROUP = 16, 4


@dataclass(frozen=True, kw_only=True)
class RoundShown:
    """One pair of readings: how independent, what was found, and what was done then."""

    name: str
    grade: str
    voided: str
    findings: tuple[ShownFinding, ...]
    then: str


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One nurse's answer to one caution."""

    part: str
    title: str
    reason: str
    named: str
    text: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Granted:
    """A rule that was set aside."""

    title: str
    reason: str
    prescriber: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Helped:
    """Help that was asked for."""

    why: str
    text: str
    by: str
    outcome: str
    settled: str


@dataclass(frozen=True, kw_only=True)
class StepTaken:
    """One safety step: by whom it was done and verified, and when; neither where both read it."""

    words: str
    done: tuple[str, datetime] | None
    verified: tuple[str, datetime] | None


@dataclass(frozen=True, kw_only=True)
class SignatureShown:
    """One signature."""

    part: str
    name: str
    meaning: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Side:
    """One field as each of the two read it; blank where it was not read."""

    label: str
    first: str
    second: str


@dataclass(frozen=True, kw_only=True)
class Superseded:
    """What was observed before the baseline that stands, or instead of one."""

    by: str
    at: datetime
    observed: tuple[tuple[str, str], ...]
    forbids_start: bool


@dataclass(frozen=True, kw_only=True)
class PatientDiffered:
    """By whom and when another patient than agreed was read before connecting; never which."""

    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class RecordPage:
    """The record, its signatures, and whether its PDF is made."""

    head: Head
    parts: tuple[str, str]
    edition: int
    digest: str
    digest_shown: str
    clinicians: tuple[tuple[str, str, str], ...]
    in_short: tuple[tuple[str, str], ...]
    open_account: tuple[str, ...]
    rows: tuple[Row, ...]
    names: tuple[NameRead, ...]
    spine: int
    doses: tuple[Doses, ...]
    changed: tuple[ChangeRow, ...]
    sides: tuple[tuple[str, tuple[Side, ...]], ...]
    rounds: tuple[RoundShown, ...]
    not_judged: str
    on_record: OrderOnRecord | None
    answers: tuple[Answer, ...]
    granted: tuple[Granted, ...]
    helped: tuple[Helped, ...]
    baseline: tuple[tuple[str, str], ...]
    superseded: tuple[Superseded, ...]
    patient_differed: tuple[PatientDiffered, ...]
    stops: tuple[StopShown, ...]
    taken_back: tuple[TakenBackShown, ...]
    may_put_right: bool
    priming: tuple[tuple[str, str], ...]
    steps: tuple[StepTaken, ...]
    versions: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    signatures: tuple[SignatureShown, ...]
    has_pdf: bool
    observe_at: datetime | None
    # What its end means, and whether an old syringe is to be written of by whoever looks.
    follows: str
    old_syringe: bool
    # The editions of which what followed is told to its end.
    followed: tuple[int, ...]

    @property
    def steps_begin(self) -> datetime | None:
        """When the first of the steps was done."""
        return min((each.done[1] for each in self.steps if each.done), default=None)


def record_page(record: RecordSeen) -> RecordPage:
    """The record as its two, and later everybody who may read records, see it."""
    document = dict(record.frozen.told)
    seen = record.check
    kind = seen.loaded.state.kind
    parts = kind.parts_by_letter
    compared = [each for each in document["rounds"] if "comparison" in each]
    last = compared[-1]
    packs = packs_of(seen.loaded)
    read_by_round = {
        each["round"]: readings({"answers": each["readings"], "case": each["case"]}, packs, kind)
        for each in compared
    }
    rows_by_round = {number: rows_of(read) for number, read in read_by_round.items()}
    rows, doses = rows_by_round[last["round"]], doses_of(last["comparison"], kind)
    changed = change_rows(last["comparison"])
    numbers = [
        *(number for every in rows_by_round.values() for row in every for number in row.numbers),
        *numbers_in(doses, changed),
    ]
    codes = {each["key"]: each["code"] for one in compared for each in one["comparison"]["findings"]}
    digest = record.frozen.digest
    return RecordPage(
        head=head_of(seen),
        parts=kind.parts,
        edition=document["edition"],
        digest=digest,
        digest_shown=" ".join(digest[at : at + _GROUP] for at in range(0, _DIGEST_SHOWN, _GROUP)),
        clinicians=tuple(
            (each["part"], each["printed_name"], each["staff_number"]) for each in document["clinicians"]
        ),
        in_short=tuple(in_short(rows, kind)),
        open_account=tuple(each.says for each in findings_of(last) if each.is_of_account),
        rows=rows,
        names=names_of(last["readings"], kind),
        spine=spine_for(numbers),
        doses=doses,
        changed=changed,
        sides=tuple(_sides(read_by_round[last["round"]])),
        not_judged=not_judged_words(last["comparison"]["not_judged"]),
        on_record=find_compared(last["comparison"]),
        rounds=tuple(_rounds(document["rounds"], rows_by_round, seen)),
        answers=tuple(_answer(each, codes, parts) for each in document["acknowledgements"]),
        granted=tuple(_granted(each) for each in document["exceptions"]),
        helped=tuple(_helped(each) for each in document["help"]),
        baseline=tuple(_baseline(document.get("baseline"), seen)),
        # A record of before said nothing of either.
        patient_differed=tuple(
            PatientDiffered(by=each["by"], at=datetime.fromisoformat(each["at"]))
            for each in document.get("safety_steps", {}).get("patient_differed", ())
        ),
        superseded=tuple(
            _superseded(each, seen) for each in document.get("baselines", ()) if not each["stands"]
        ),
        stops=tuple(_stop(each) for each in document.get("stops", ())),
        taken_back=tuple(
            TakenBackShown(
                words=each.words, by=each.by, at=datetime.fromisoformat(each.at), stands=each.stands
            )
            for each in taken_back_shown(document)
        ),
        may_put_right=bool(taken_back_block(seen).link),
        priming=tuple(_primed(priming_shown(document), parts)) if "priming" in document else (),
        steps=tuple(_step(each, parts) for each in document["safety_steps"]["steps"]) if kind.plans else (),
        versions=(("engine", last["comparison"]["engine"]), *document["versions"].items()),
        cautions=tuple(document["cautions"]),
        signatures=tuple(
            SignatureShown(
                part=kind.part(each.slot), name=each.printed_name, meaning=each.meaning, at=each.signed_at
            )
            for each in record.signatures
        ),
        observe_at=record.observe_at,
        follows=what_follows(seen.loaded.state, seen.names),
        old_syringe=kind.puts_one_on and seen.slot is not None,
        has_pdf=record.has_pdf,
        followed=seen.followed,
    )


def _sides(read: Readings) -> Iterator[tuple[str, tuple[Side, ...]]]:
    """Every answer as each wrote it, source by source."""
    for source, fields in FIELDS.items():
        sides = [
            Side(
                label=field.label,
                first=written(read, A, source, field),
                second=written(read, B, source, field),
            )
            for field in fields
        ]
        yield source_words(source.value), tuple(each for each in sides if each.first or each.second)


def _rounds(
    rounds: list[dict[str, Any]], rows: Mapping[int, tuple[Row, ...]], seen: Seen
) -> Iterator[RoundShown]:
    for at, each in enumerate(rounds):
        found = findings_of(each)
        yield RoundShown(
            name=round_words(each["round"]),
            grade=independence_words(each["independence"]) if "independence" in each else "",
            voided=voided_words(each["voided"]),
            findings=tuple(
                shown(one, rows.get(each["round"], ()), seen.loaded.state, seen.names)
                for one in worst_first(found)
                if one.severity != "note"
            ),
            then=_then(rounds[at + 1]) if at + 1 < len(rounds) else "",
        )


def _then(following: Mapping[str, Any]) -> str:
    """What was done before the next reading."""
    if following.get("outcome"):
        return f"{outcome_words(following['outcome'])}: it was read again, by each alone."
    if following["touched"]:
        done = ", ".join(put_right_words(source) for source in following["touched"])
        return f"{done}: all of it was read again, by each alone."
    return "Those fields were read again, by each alone."


def _answer(each: Mapping[str, str], codes: Mapping[str, str], parts: Mapping[str, str]) -> Answer:
    code = codes.get(each["finding"], "")
    reasons = {reason.key: reason.words for reason in reasons_for(code)}
    return Answer(
        part=parts[each["clinician"]],
        title=code_words(code),
        reason=reasons.get(each["reason"], each["reason"]),
        named=each["named"],
        text=each["text"],
        at=datetime.fromisoformat(each["at"]),
    )


def _granted(each: Mapping[str, str]) -> Granted:
    return Granted(
        title=code_words(each["code"]),
        reason=each["reason"],
        prescriber=each["prescriber"],
        by=each["by"],
        at=datetime.fromisoformat(each["at"]),
    )


def _helped(each: Mapping[str, Any]) -> Helped:
    return Helped(
        why=why_words(each["why"]),
        text=each["text"],
        by=", then ".join(taking["by"] for taking in each["taken"]),
        outcome=outcome_words(each["outcome"]) if each["outcome"] else "",
        settled=each["settled"],
    )


def _baseline(seen: Mapping[str, str] | None, check: Seen) -> Iterator[tuple[str, str]]:
    if seen is None:
        return
    levels = dict(check.loaded.policy.baseline.levels)
    yield "Sedation", f"{levels.get(seen['sedation'], seen['sedation'])} ({seen['scale']})"
    yield "Respiratory rate", seen["respiratory_rate"]
    yield "SpO2", seen["spo2"]


def _superseded(each: Mapping[str, Any], check: Seen) -> Superseded:
    return Superseded(
        by=each["by"],
        at=datetime.fromisoformat(each["at"]),
        observed=tuple(_baseline(each, check)),
        forbids_start=each["forbids_start"],
    )


def _stop(each: Mapping[str, Any]) -> StopShown:
    return stop_shown(
        by=each["by"],
        at=datetime.fromisoformat(each["at"]),
        stopped_at=each["stopped_at"],
        why=each["why"],
        totals=each["totals"],
        misplaced=each["at_another_bed"],
    )


def _primed(shown: Iterable[PrimingShown], parts: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    for each in shown:
        drug = f", with {each.drug} of drug" if each.drug else ""
        again = "" if each.stands else " Primed again."
        yield parts[each.by], " ".join((f"{each.volume}{drug}.", *each.says)) + again


def _step(each: Mapping[str, Any], parts: Mapping[str, str]) -> StepTaken:
    return StepTaken(
        words=each["do"], done=_confirmed(each, "done", parts), verified=_confirmed(each, "verified", parts)
    )


def _confirmed(step: Mapping[str, Any], part: str, parts: Mapping[str, str]) -> tuple[str, datetime] | None:
    if part not in step:
        return None
    return parts[step[part]["clinician"]], datetime.fromisoformat(step[part]["at"])
