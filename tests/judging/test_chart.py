"""What the chart's answers mean, row by row; and which reasons a caution can be acknowledged with."""

from datetime import date
from itertools import product

import pytest

from app.comparison import Severity
from app.comparison.findings import SEVERITIES
from app.comparison.reasons import REASONS, reasons_for
from app.judging.chart import (
    CHART_RULES,
    adult_fault,
    chart_findings,
    chart_of,
    patient_facts,
)
from app.quantities import Fault
from app.records.fields import fields_judged_by
from app.records.sources import JudgedBy
from tests.factories.answers import answers

ANSWERS = {
    "order_current": ("yes", "no"),
    "pharmacist": ("verified", "not-yet", "urgent-exception"),
    "allergy": ("none-charted", "charted", "not-recorded"),
    "opioid_tolerant": ("yes", "no", "unknown"),
    "other_opioids": ("none", "charted"),
    "sedatives": ("none", "charted"),
    "neuraxial_opioid": ("none", "within-24-h"),
    "able_to_use_button": ("yes", "no"),
    "weight": ("82 kg", "not-charted"),
}
SAFE = {key: answers[0] for key, answers in ANSWERS.items()}

MEANINGS = {
    ("order_current", "no"): (
        "stop",
        "order-not-current",
        "The order is not current or not signed. Nothing may be given on it.",
    ),
    ("pharmacist", "not-yet"): (
        "stop",
        "order-not-verified",
        "No pharmacist has verified the order yet. It must be verified before the infusion starts.",
    ),
    ("pharmacist", "urgent-exception"): (
        "caution",
        "verified-as-urgent-exception",
        "No pharmacist has verified the order; it runs as an urgent exception. Have it verified soon.",
    ),
    ("allergy", "charted"): (
        "stop",
        "allergy-charted",
        "An allergy to this drug is charted. Do not give it; call the prescriber.",
    ),
    ("allergy", "not-recorded"): (
        "caution",
        "allergy-not-recorded",
        "The chart does not say whether the patient has an allergy to this drug. Ask the patient.",
    ),
    ("other_opioids", "charted"): (
        "caution",
        "other-opioid-charted",
        "Another opioid is charted. Together they sedate more and slow breathing more.",
    ),
    ("sedatives", "charted"): (
        "caution",
        "sedative-charted",
        "A sedative is charted. With an opioid it sedates more and slows breathing more.",
    ),
    ("neuraxial_opioid", "within-24-h"): (
        "caution",
        "neuraxial-opioid-charted",
        "An epidural or spinal opioid was given in the last 24 h. It can slow breathing for hours yet.",
    ),
    ("able_to_use_button", "no"): (
        "stop",
        "cannot-use-button",
        (
            "The patient cannot use the button. Nobody may press it for the patient: "
            "that is another therapy and needs another order."
        ),
    ),
}


@pytest.mark.parametrize(("key", "answer"), [(key, answer) for key in ANSWERS for answer in ANSWERS[key]])
def test_an_answer_that_both_read(key: str, answer: str) -> None:
    reading = {**SAFE, key: answer}
    findings = chart_findings(reading, dict(reading))
    if (key, answer) not in MEANINGS:
        assert findings == []
        return
    severity, code, says = MEANINGS[key, answer]
    [finding] = findings
    assert finding.as_json() == {
        "code": code,
        "severity": severity,
        "field": f"chart.{key}",
        "readings": {"A.chart": answer, "B.chart": answer},
        "origin": None,
        "slip": None,
        "factor": None,
        "says": says,
    }


WORDS = {
    "order_current": "whether the order is current and signed",
    "pharmacist": "whether a pharmacist has verified the order",
    "allergy": "the allergies to this drug",
    "opioid_tolerant": "whether the patient is opioid-tolerant",
    "other_opioids": "other opioids",
    "sedatives": "sedatives",
    "neuraxial_opioid": "an epidural or spinal opioid in the last 24 h",
    "able_to_use_button": "whether the patient can use the button",
    "weight": "the weight",
}


@pytest.mark.parametrize(
    ("key", "one", "other"),
    [(key, one, other) for key in ANSWERS for one, other in product(ANSWERS[key], repeat=2) if one != other],
)
def test_an_answer_that_the_two_read_differently(key: str, one: str, other: str) -> None:
    """Nothing is said of what either answer would mean: it must be read again first."""
    [finding] = chart_findings({**SAFE, key: one}, {**SAFE, key: other})
    assert finding.as_json() == {
        "code": "readings-differ",
        "severity": "stop",
        "field": f"chart.{key}",
        "readings": {"A.chart": one, "B.chart": other},
        "origin": "reading",
        "slip": None,
        "factor": None,
        "says": (
            f"The two nurses read {WORDS[key]} in the chart differently. Both must look at the chart again."
        ),
    }


@pytest.mark.parametrize("key", ANSWERS)
@pytest.mark.parametrize(
    ("first", "second", "by"),
    [
        (True, False, "the second nurse"),
        (False, True, "the first nurse"),
        (False, False, "both nurses"),
    ],
)
def test_an_answer_that_is_missing(key: str, *, first: bool, second: bool, by: str) -> None:
    bad = ANSWERS[key][-1]
    readings = [{**SAFE, key: bad if is_read else None} for is_read in (first, second)]
    [finding] = chart_findings(*readings)
    assert finding.as_json() == {
        "code": "reading-missing",
        "severity": "stop",
        "field": f"chart.{key}",
        "readings": {"A.chart": readings[0][key], "B.chart": readings[1][key]},
        "origin": "reading",
        "slip": None,
        "factor": None,
        "says": f"In the chart {WORDS[key]} was not read by {by}. It must be read first.",
    }


def test_an_absent_key_is_missing_and_nothing_was_read_at_all() -> None:
    findings = chart_findings({}, {})
    assert [(finding.code, finding.field) for finding in findings] == [
        ("reading-missing", f"chart.{key}") for key in ANSWERS
    ]


def test_stops_come_first_then_the_questions_in_order() -> None:
    worst = {key: answers[-1] for key, answers in ANSWERS.items()}
    reading = {**worst, "pharmacist": "not-yet"}
    findings = chart_findings(reading, {**reading, "weight": "83 kg"})
    assert [(finding.severity.value, finding.code) for finding in findings] == [
        ("stop", "readings-differ"),
        ("stop", "order-not-current"),
        ("stop", "order-not-verified"),
        ("stop", "cannot-use-button"),
        ("caution", "allergy-not-recorded"),
        ("caution", "other-opioid-charted"),
        ("caution", "sedative-charted"),
        ("caution", "neuraxial-opioid-charted"),
    ]


def test_the_table_asks_nothing_else() -> None:
    assert {each.name: each.words for _, each in fields_judged_by(JudgedBy.CHART)} == WORDS
    assert {(rule.key, rule.answer) for rule in CHART_RULES} == MEANINGS.keys()
    assert not {rule.code for rule in CHART_RULES} & SEVERITIES.keys()


@pytest.mark.parametrize(
    ("first", "second", "facts"),
    [
        ({"weight": "82 kg"}, {"weight": "82 kg"}, {"weight": "82 kg"}),
        ({"weight": "82 kg"}, {"weight": "83 kg"}, {}),
        ({"weight": "not-charted"}, {"weight": "not-charted"}, {}),
        ({"weight": "82 kg"}, {}, {}),
        ({"opioid_tolerant": "yes"}, {"opioid_tolerant": "yes"}, {"opioid_naive": False}),
        ({"opioid_tolerant": "no"}, {"opioid_tolerant": "no"}, {"opioid_naive": True}),
        ({"opioid_tolerant": "unknown"}, {"opioid_tolerant": "unknown"}, {}),
        ({"opioid_tolerant": "yes"}, {"opioid_tolerant": "no"}, {}),
        ({"opioid_tolerant": "yes"}, {"opioid_tolerant": None}, {}),
        ({}, {}, {}),
    ],
)
def test_the_engine_gets_what_both_read(
    first: dict[str, str | None], second: dict[str, str | None], facts: dict[str, object]
) -> None:
    assert patient_facts(first, second) == facts


@pytest.mark.parametrize(
    ("birth_date", "on_date", "is_adult"),
    [
        (date(2013, 5, 2), date(2031, 5, 2), True),
        (date(2013, 5, 3), date(2031, 5, 2), False),
        (date(2013, 6, 1), date(2031, 5, 2), False),
        (date(2013, 4, 30), date(2031, 5, 2), True),
        (date(2012, 12, 31), date(2031, 1, 1), True),
        (date(2014, 1, 1), date(2031, 12, 31), False),
        # Born on a leap day: of age on the first of March where the year has no such day.
        (date(2008, 2, 29), date(2026, 2, 28), False),
        (date(2008, 2, 29), date(2026, 3, 1), True),
        (date(2040, 1, 1), date(2031, 5, 2), False),
    ],
)
def test_adults_only(birth_date: date, on_date: date, *, is_adult: bool) -> None:
    fault = adult_fault(birth_date, on_date, 18)
    expected = Fault(code="not-adult", says="This tool is for adults only: use the children's protocol.")
    assert fault == (None if is_adult else expected)


CAUTIONS = {
    *(code for code, severity in SEVERITIES.items() if severity is Severity.CAUTION),
    *(rule.code for rule in CHART_RULES if rule.severity is Severity.CAUTION),
}


def test_every_caution_has_reasons_and_nothing_else_has() -> None:
    assert REASONS.keys() == CAUTIONS
    for code, reasons in REASONS.items():
        assert reasons_for(code) == reasons
        assert 1 <= len(reasons) <= 4
        assert len({reason.key for reason in reasons}) == len(reasons)
        assert len({reason.words for reason in reasons}) == len(reasons)
    assert reasons_for("device-differs") == ()


@pytest.mark.parametrize("code", ["other-opioid-charted", "sedative-charted", "neuraxial-opioid-charted"])
def test_whoever_prescribed_can_be_named(code: str) -> None:
    [asked] = [reason for reason in reasons_for(code) if reason.key == "prescriber-asked"]
    assert asked.asks_name


def test_a_name_is_asked_for_exactly_where_somebody_was_asked() -> None:
    for reasons in REASONS.values():
        for reason in reasons:
            assert reason.asks_name == reason.key.endswith("-asked") or reason.key == "patient-asked"


@pytest.mark.parametrize(
    ("first", "second", "known"),
    [
        ({}, {}, {"weight": "82 kg", "opioid_naive": True}),
        ({"opioid_tolerant": "yes"}, {"opioid_tolerant": "yes"}, {"weight": "82 kg", "opioid_naive": False}),
        # Unknown counts as naive: the engine is not told.
        ({"opioid_tolerant": "unknown"}, {"opioid_tolerant": "unknown"}, {"weight": "82 kg"}),
        # Only what both read alike.
        ({"opioid_tolerant": "yes"}, {}, {"weight": "82 kg"}),
        ({"weight": "28 kg"}, {}, {"opioid_naive": True}),
        ({"weight": "none"}, {"weight": "none"}, {"opioid_naive": True}),
    ],
)
def test_what_the_engine_may_know_of_the_patient(
    first: dict[str, str], second: dict[str, str], known: dict[str, object]
) -> None:
    read = (chart_of(answers(chart=each)) for each in (first, second))

    assert patient_facts(*read) == known


def test_a_weight_that_is_not_charted_is_said_in_the_charts_words() -> None:
    assert chart_of(answers(chart={"weight": "none"}))["weight"] == "not-charted"
    assert chart_of({}) == {}
