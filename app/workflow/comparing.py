"""Compare a round: open both readings, let the engine decide, keep case and result."""

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.comparison import CaseError, Finding, Result, evaluate, read_case
from app.comparison.chart import chart_findings, patient_facts
from app.keys import new_salt
from app.records import events
from app.records.canonical import canonical
from app.records.case import build_case, entry
from app.records.followup import Found
from app.records.kept import FIRST, SECOND, SOURCES, KeptComparison, KeptReading
from app.records.life import Action, may_be_done
from app.records.plain import finding_key, plain_findings, salted
from app.records.reading import WHOLE, Answers, latest
from app.records.sources import NONE
from app.records.state import CheckState, Round
from app.records.steps import WITH_CARRIER, plan_name
from app.storage import Reader
from app.workflow.loading import Loaded, lock_and_load
from app.workflow.reading import open_reading, own_latest
from app.workflow.site import Site

_SEVERITIES = ("stop", "caution", "note")


def compare_round(site: Site, check_id: str, now: datetime) -> bool:
    """Compare the current round if both have handed in and nobody has compared it; safe at any time."""
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, now)
        if loaded is None or not may_be_done(Action.COMPARE, loaded.state.phase):
            return False
        kept = make_comparison(site, tx, loaded, now)
        tx.add_comparison(kept)
        tx.append(
            events.Compared(subject=SOURCES, round=kept.round),
            at=now,
            check=check_id,
            infusion=loaded.state.check.infusion,
        )
    return True


def make_comparison(site: Site, reader: Reader, loaded: Loaded, now: datetime) -> KeptComparison:
    """Case and result of the current round, from each clinician's latest value of every field."""
    state = loaded.state
    current = state.current
    assert current is not None  # noqa: S101  # both have handed in
    answers = {slot: _latest_with_current(site, reader, state, slot) for slot in (FIRST, SECOND)}
    engine, case, result = compared(loaded, current, answers, salt=_salt(loaded))
    return KeptComparison(
        check=state.check.id,
        subject=SOURCES,
        round=current.number,
        at=now,
        engine=engine,
        case=case,
        result=result,
    )


def compared(
    loaded: Loaded, current: Round, answers: Mapping[int, Answers], *, salt: str
) -> tuple[str, bytes, bytes]:
    """The engine's version, and case and result as they are kept, of one round of the sources."""
    # A use-by date lasts to the end of the day where the label is read, which is not Greenwich.
    zone = ZoneInfo(loaded.policy.zone)
    case, result = evaluated(
        build_case(
            entries=(
                entry("A", answers[FIRST], current.handed_in[FIRST].at.astimezone(zone)),
                entry("B", answers[SECOND], current.handed_in[SECOND].at.astimezone(zone)),
            ),
            policy={**loaded.policy.engine, **_volumes(loaded, answers[FIRST])},
            library=loaded.library["drugs"],
            patient=patient_of(answers[FIRST], answers[SECOND]),
        )
    )
    findings = all_findings(result, answers[FIRST], answers[SECOND], salt=salt)
    made = result.as_json()
    document = {
        "verdict": verdict_of(findings),
        "engine": made["engine"],
        "salt": salt,
        "findings": [vars(each) for each in findings],
        "math": made["math"],
        "delivery": made["delivery"],
        "plan": _plan(answers[FIRST], answers[SECOND]),
    }
    opened = {
        "case": case,
        "answers": {"A": answers[FIRST], "B": answers[SECOND]},
        "versions": {
            "policy": loaded.policy.version,
            "library": loaded.library["version"],
            "packs": loaded.packs["version"],
        },
    }
    return made["engine"], canonical(opened), canonical(document)


def _salt(loaded: Loaded) -> str:
    """One salt for all rounds of a check, so that a finding that stays is known again.

    A check that was first compared without one goes on without.
    """
    earlier = [each for each in loaded.comparisons if each.subject == SOURCES]
    return str(earlier[0].told.get("salt", "")) if earlier else new_salt().hex()


def _plan(first: Answers, second: Answers) -> str:
    """The plan that both orders ask for; where they do not agree the usual one, which tells nothing."""
    named = {plan_name(answers.get("order", {})) for answers in (first, second)}
    return named.pop() if len(named) == 1 else WITH_CARRIER


def _latest_with_current(site: Site, reader: Reader, state: CheckState, slot: int) -> Answers:
    """One clinician's latest values, the round that is compared now included."""
    current = state.current
    assert current is not None  # noqa: S101
    kept = reader.find_reading(state.check.id, SOURCES, current.number, slot)
    assert isinstance(kept, KeptReading)  # noqa: S101  # both have handed in
    before = own_latest(site, reader, state, slot)
    return latest([(WHOLE, before), (current.scope, open_reading(site, kept))])


def patient_of(first: Answers, second: Answers) -> dict[str, Any]:
    """What the engine may know of the patient: only the chart facts on which both agree."""
    return dict(patient_facts(chart_of(first), chart_of(second)))


def chart_of(answers: Answers) -> dict[str, str]:
    """The chart's answers in the words of its rules."""
    chart = dict(answers.get("chart", {}))
    if chart.get("weight") == NONE:
        chart["weight"] = "not-charted"
    return chart


def _volumes(loaded: Loaded, answers: Answers) -> dict[str, str]:
    """Prime and dead volume of the set in use, from the site's list of packs."""
    named = answers.get("device", {}).get("pack", "")
    for pack in loaded.packs["packs"]:
        if pack["key"] == named:
            return {"prime_volume": pack["prime_volume"], "dead_volume": pack["dead_volume"]}
    return {}


_IN_ENTRY = re.compile(r"entries\[([01])\]\.(.+)")


def evaluated(case: dict[str, Any]) -> tuple[dict[str, Any], Result]:
    """The engine's result; a value that it cannot read is taken out, and becomes a reading that is missing.

    The forms refuse such values at once; a rule may become stricter between draft and comparison.
    """
    while True:
        read = read_case(case)
        if not isinstance(read, CaseError):
            return case, evaluate(read)
        _take_out(case, read)


def _take_out(case: dict[str, Any], error: CaseError) -> None:
    matched = _IN_ENTRY.fullmatch(error.path)
    if matched is None:
        message = f"the case cannot be read: {error.path}: {error.code}"
        raise ValueError(message)
    place: dict[str, Any] = case["entries"][int(matched[1])]
    *parents, last = matched[2].split(".")
    for parent in parents:
        place = place[parent]
    del place[last]


def all_findings(result: Result, first: Answers, second: Answers, *, salt: str = "") -> tuple[Found, ...]:
    """The engine's findings, the chart's and our own, worst first and otherwise in that order."""
    engine = [_found(each) for each in result.findings]
    chart = [_found(each) for each in chart_findings(chart_of(first), chart_of(second))]
    plain = plain_findings(first, second, [*engine, *chart])
    together = salted([*engine, *chart, *plain], salt)
    return tuple(sorted(together, key=lambda each: _SEVERITIES.index(each.severity)))


def _found(finding: Finding) -> Found:
    made: Mapping[str, Any] = finding.as_json()
    clinician = made.get("clinician", "")
    readings = made["readings"]
    return Found(
        key=finding_key(
            code=made["code"],
            field=made["field"],
            clinician=clinician,
            readings=readings,
            says=made["says"],
        ),
        code=made["code"],
        severity=made["severity"],
        field=made["field"],
        clinician=clinician,
        readings=readings,
        says=made["says"],
        slip=made["slip"] or "",
        factor=made["factor"]["shown"] if made["factor"] else "",
        origin=made["origin"] or "",
    )


def verdict_of(findings: tuple[Found, ...]) -> str:
    """The verdict that the worst finding makes."""
    severities = {each.severity for each in findings}
    if "stop" in severities:
        return "stopped"
    return "cautioned" if "caution" in severities else "agreed"
