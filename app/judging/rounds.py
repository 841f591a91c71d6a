"""Judge a round: what two readings come to under a site's rules, as it is kept."""

import re
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from app.comparison import CaseError, Finding, Result, evaluate, read_case
from app.judging.chart import chart_findings, patient_facts
from app.judging.plain import finding_key, plain_findings, salted
from app.records.canonical import canonical
from app.records.case import build_case, entry
from app.records.followup import Found
from app.records.formats import COMPARISON, READ
from app.records.kept import FIRST, SECOND
from app.records.known import Known
from app.records.reading import Answers
from app.records.rules import LIBRARY, PACKS, Rules
from app.records.sources import NONE
from app.records.state import Round
from app.records.steps import WITH_CARRIER, plan_name

_SEVERITIES = ("stop", "caution", "note")
_READ_BEFORE = re.compile(r"(?:entries\[([01])\]|(previous|order_of_record|patient))\.(.+)")


def compared(
    rules: Rules, current: Round, answers: Mapping[int, Answers], known: Known, *, salt: str
) -> tuple[str, bytes, bytes]:
    """The engine's version, and case and result as they are kept, of one round of the sources."""
    # A use-by date lasts to the end of the day where the label is read, which is not Greenwich.
    zone = ZoneInfo(rules.policy.zone)
    case, result = evaluated(
        build_case(
            entries=(
                entry("A", answers[FIRST], current.handed_in[FIRST].at.astimezone(zone)),
                entry("B", answers[SECOND], current.handed_in[SECOND].at.astimezone(zone)),
            ),
            policy={**rules.policy.engine, **_volumes(rules, answers[FIRST])},
            library=rules.content(LIBRARY)["drugs"],
            patient=patient_of(answers[FIRST], answers[SECOND]),
            known=known,
        )
    )
    findings = all_findings(result, answers[FIRST], answers[SECOND], salt=salt)
    made = result.as_json()
    document = {
        "format": COMPARISON.newest,
        "verdict": verdict_of(findings),
        "engine": made["engine"],
        "salt": salt,
        "findings": [vars(each) for each in findings],
        "math": made["math"],
        "delivery": made["delivery"],
        "plan": _plan(answers[FIRST], answers[SECOND]),
    }
    opened = {
        "format": READ.newest,
        "case": case,
        "answers": {"A": answers[FIRST], "B": answers[SECOND]},
        "versions": {
            "policy": rules.policy.version,
            "library": rules.content(LIBRARY)["version"],
            "packs": rules.content(PACKS)["version"],
        },
    }
    return made["engine"], canonical(opened), canonical(document)


def _plan(first: Answers, second: Answers) -> str:
    """The plan that both orders ask for; where they do not agree the usual one, which tells nothing."""
    named = {plan_name(answers.get("order", {})) for answers in (first, second)}
    return named.pop() if len(named) == 1 else WITH_CARRIER


def patient_of(first: Answers, second: Answers) -> dict[str, Any]:
    """What the chart says of the patient: only the facts on which both agree."""
    return dict(patient_facts(chart_of(first), chart_of(second)))


def chart_of(answers: Answers) -> dict[str, str]:
    """The chart's answers in the words of its rules."""
    chart = dict(answers.get("chart", {}))
    if chart.get("weight") == NONE:
        chart["weight"] = "not-charted"
    return chart


def _volumes(rules: Rules, answers: Answers) -> dict[str, str]:
    """Prime and dead volume of the set in use, from the site's list of packs."""
    named = answers.get("device", {}).get("pack", "")
    for pack in rules.content(PACKS)["packs"]:
        if pack["key"] == named:
            return {"prime_volume": pack["prime_volume"], "dead_volume": pack["dead_volume"]}
    return {}


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
    matched = _READ_BEFORE.fullmatch(error.path)
    if matched is None:
        message = f"the case cannot be read: {error.path}: {error.code}"
        raise ValueError(message)
    entry_of, known, inside = matched.groups()
    place: dict[str, Any] = case[known] if known else case["entries"][int(entry_of)]
    *parents, last = inside.split(".")
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
