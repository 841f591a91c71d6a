"""The canonical record: one JSON document of everything that both sign, and nothing that is computed later.

Every quantity is text; the only numbers are small counts. Only the newest format is built here.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.formats import RECORD
from app.records.independence import of_round
from app.records.kept import FIRST, LETTER_OF, PRIMING, SECOND, SOURCES, KeptComparison
from app.records.patient_rows import PATIENT_NAME
from app.records.state import Baseline, CheckState, Round
from app.records.taken_back import TakenBack, standing

ACCOUNT, AS_IT_STANDS = "account", "as_it_stands"
"""The sections that come from the whole infusion."""

CAUTIONS = (
    "This record supports and never replaces the device's manual, local policy and licensed judgement.",
    "Doses are computed for a model device; the device's own manual and local policy rule.",
    "Two readings of one label cannot find a label that is itself wrong.",
)


@dataclass(frozen=True, kw_only=True)
class Names:
    """The printed names that the record carries."""

    unit: str
    people: Mapping[str, str]
    staff_numbers: Mapping[str, str]


def build_document(  # noqa: PLR0913  # each is a fact of its own that the record states
    state: CheckState,
    *,
    edition: int,
    comparisons: Iterable[KeptComparison],
    names: Names,
    versions: Mapping[str, str],
    line_sets: Mapping[str, str],
    site: str,
    zone: str,
    invented: bool,
    earlier_looks: frozenset[str],
    with_name: bool,
    account: Mapping[str, Any] | None = None,
    stands: Mapping[str, Any] | None = None,
    cautions: Iterable[str] = CAUTIONS,
) -> dict[str, Any]:
    """The record of one check as it stands when its last step is confirmed; `cautions` are no facts.

    `with_name`: the site's policy prints the patient's name. `invented`: the rules it was made under are.
    `account` is what the account comes to where the check closes it, and None where there is none; `stands`
    is how the infusion stands where it is handed over.
    """
    kept = list(comparisons)
    of_infusion = {ACCOUNT: account, AS_IT_STANDS: stands}
    return {
        "format": RECORD.newest,
        "record": state.check.id,
        "edition": edition,
        "site": site,
        "zone": zone,
        "invented": invented,
        "check": {
            "kind": state.check.kind,
            "infusion": state.check.infusion,
            "unit": names.unit,
            "unit_id": state.check.unit,
            "bed": state.check.bed,
            "opened_at": time_in(state.check.opened_at),
        },
        "clinicians": [_clinician(slot, state, names) for slot in (FIRST, SECOND)],
        "rounds": [
            _as_policy_says(_round(each, state, kept, earlier_looks), with_name=with_name)
            | _put_right(each, names)
            for each in state.rounds
        ],
        "acknowledgements": [
            {
                "clinician": LETTER_OF[each.slot],
                "finding": each.finding,
                "reason": each.reason,
                "named": each.named,
                "text": each.text,
                "at": time_in(each.at),
            }
            for each in state.acknowledgements
        ],
        "exceptions": [
            {
                "finding": each.finding,
                "code": each.code,
                "field": each.field,
                "reason": each.reason,
                "prescriber": each.prescriber,
                **said_by(each.by, names),
                "at": time_in(each.at),
            }
            for each in state.exemptions
        ],
        "help": [
            {
                "why": each.why,
                "text": each.text,
                "taken": [{**said_by(taking.by, names), "at": time_in(taking.at)} for taking in each.takings],
                "outcome": each.outcome,
                "settled": each.settled_text,
            }
            for each in state.help
        ],
        "stops": [
            {
                "stopped_at": each.stopped_at,
                "why": each.why,
                "totals": each.totals,
                "at_another_bed": each.misplaced,
                **said_by(each.by, names),
                "at": time_in(each.at),
            }
            for each in state.stop_notes
        ],
        **{
            name: of_infusion[name] if name in of_infusion else _section(name, state, kept, names)
            for name in state.kind.sections
        },
        "line_sets": _line_sets(kept, line_sets),
        "versions": dict(versions),
        "cautions": list(cautions),
    }


def _line_sets(comparisons: Iterable[KeptComparison], words: Mapping[str, str]) -> dict[str, str]:
    """What the line sets that were read are called, by their keys: nobody reads a key on paper."""
    read = {
        answers.get("device", {}).get("pack", "")
        for each in comparisons
        if each.subject == SOURCES
        for answers in each.opened["answers"].values()
    }
    return {key: said for key, said in words.items() if key in read}


def _section(name: str, state: CheckState, comparisons: list[KeptComparison], names: Names) -> Any:  # noqa: ANN401  # any JSON value
    """What not every kind has."""
    match name:
        case "safety_steps":
            return _steps(state, names)
        case "baseline":
            return _baseline(state.baseline, names) if state.baseline else None
        case "baselines":
            return [
                {**_baseline(each, names), "forbids_start": each.below, "stands": each is state.baseline}
                for each in state.baselines
            ]
        case _:
            return _priming(comparisons)


def said_by(person: str, names: Names) -> dict[str, str]:
    """Who did it: the name is for readers, the account stays the same when a name is put right."""
    return {"by": names.people.get(person, person), "person": person}


def time_in(at: datetime) -> str:
    """A moment as the record writes it."""
    return at.isoformat(timespec="seconds")


def _clinician(slot: int, state: CheckState, names: Names) -> dict[str, Any]:
    person = state.people[slot]
    return {
        "letter": LETTER_OF[slot],
        "part": state.kind.part(slot),
        "person": person,
        "printed_name": names.people[person],
        "staff_number": names.staff_numbers[person],
    }


def _round(
    each: Round, state: CheckState, comparisons: list[KeptComparison], earlier_looks: frozenset[str]
) -> dict[str, Any]:
    # Every round of a check that comes to a record was compared or voided.
    graded = of_round(state, each, earlier_looks)
    made = {
        "round": each.number,
        "scope": {source: list(fields) for source, fields in each.scope},
        "touched": list(each.touched),
        "voided": each.voided,
        "independence": {
            "grade": graded.grade.value,
            "unlocked": list(graded.unlocked),
            "unlocked_together": graded.unlocked_together,
            "earlier_look": graded.earlier_look,
        },
    }
    if each.compared_at is None:
        # A reading whose round was never compared is shown to nobody, not even here.
        return made
    kept = next(one for one in comparisons if one.subject == SOURCES and one.round == each.number)
    opened, result = kept.opened, kept.told
    return {
        **made,
        "handed_in": {
            LETTER_OF[slot]: {
                "at": time_in(hand_in.at),
                "signed_in_at": time_in(hand_in.signed_in_at),
                "method": hand_in.method,
                "session": hand_in.session,
                "device": hand_in.device,
            }
            for slot, hand_in in sorted(each.handed_in.items())
        },
        "compared_at": time_in(each.compared_at),
        "readings": opened["answers"],
        "case": opened["case"],
        "versions": opened["versions"],
        "comparison": result,
    }


def _as_policy_says(round_: dict[str, Any], *, with_name: bool) -> dict[str, Any]:
    """A round with the patient's name in its readings, or without it."""
    if with_name or "readings" not in round_:
        return round_
    return {
        **round_,
        "readings": {letter: _without_name(read) for letter, read in round_["readings"].items()},
    }


def _without_name(read: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    return {
        source: {name: text for name, text in given.items() if name != PATIENT_NAME}
        for source, given in read.items()
    }


def _put_right(each: Round, names: Names) -> dict[str, Any]:
    """Who said that a source was put right, when, and in which words; and how help was given, if it was."""
    helped = {"outcome": each.outcome} if each.outcome else {}
    if not each.touched or not each.opened_by:
        return helped
    by = said_by(each.opened_by, names)
    return {"put_right": {**by, "at": time_in(each.opened_at), "why": each.why}, **helped}


def _steps(state: CheckState, names: Names) -> dict[str, Any]:
    assert state.plan is not None  # noqa: S101  # a record with this section is frozen after its steps
    confirmed = {(each.step, each.part): each for each in state.confirmations}
    return {
        "plan": state.plan.name,
        "version": state.plan.version,
        # Another patient than agreed, read before connecting; what was read stands nowhere.
        "patient_differed": [{**said_by(each.by, names), "at": time_in(each.at)} for each in state.differed],
        **_taken_back(state.taken_back, names),
        "steps": [
            {
                "id": step.id,
                "group": step.group,
                "entry": step.entry,
                "do": step.do,
                "verify": step.verify,
                **{
                    part: {
                        "clinician": LETTER_OF[confirmed[step.id, part].slot],
                        "at": time_in(confirmed[step.id, part].at),
                    }
                    for part in ("done", "verified")
                    if (step.id, part) in confirmed
                },
            }
            for step in state.plan.steps
        ],
    }


def _taken_back(taken: tuple[TakenBack, ...], names: Names) -> dict[str, Any]:
    """What was taken back of a replaced syringe: as the account writes it, by whom, and who saw it."""
    stands = standing(taken)
    told = [
        {
            **each.entry(),
            "held_in": each.held_in,
            "typed": each.volume,
            "first": each.first,
            "not_witnessed": each.not_witnessed,
            "lot": each.lot,
            **said_by(each.by, names),
            "written_at": time_in(each.at),
            "witness": names.people.get(each.witness, each.witness),
            "witness_person": each.witness,
            "stands": each.position in stands,
        }
        for each in taken
    ]
    return {"taken_back": told} if told else {}


def _baseline(seen: Baseline, names: Names) -> dict[str, Any]:
    return {
        "scale": seen.scale,
        "sedation": seen.sedation,
        "respiratory_rate": seen.respiratory_rate,
        "spo2": seen.spo2,
        **said_by(seen.by, names),
        "at": time_in(seen.at),
    }


def _priming(comparisons: list[KeptComparison]) -> list[dict[str, Any]]:
    return [
        {
            "judged": each.round,
            **{name: each.opened[name] for name in ("reading", "by", "volume", "against")},
            **{name: each.told[name] for name in ("within", "findings", "primed_drug")},
        }
        for each in comparisons
        if each.subject == PRIMING
    ]
