"""What the answers from the chart mean: a table that a clinician can read, beside the engine.

Common practice, no source: an allergy, an order that is not current, or neither verified nor urgent, and a
patient who cannot press the button are stops; another opioid, a sedative, a neuraxial opioid are cautions.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from app.comparison.findings import Finding, Origin
from app.comparison.wording import by_whom, nurse
from app.quantities import Fault
from app.records.fields import field_named, fields_judged_by
from app.records.followup import Severity
from app.records.kept import A, B
from app.records.reading import Answers
from app.records.sources import NONE, JudgedBy

ChartReading = Mapping[str, str | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class ChartRule:
    """What one answer means, once both have read it alike."""

    key: str
    answer: str
    code: str
    severity: Severity
    says: str


CHART_RULES = (
    ChartRule(
        key="order_current",
        answer="no",
        code="order-not-current",
        severity=Severity.STOP,
        says="The order is not current or not signed. Nothing may be given on it.",
    ),
    ChartRule(
        key="pharmacist",
        answer="not-yet",
        code="order-not-verified",
        severity=Severity.STOP,
        says="No pharmacist has verified the order yet. It must be verified before the infusion starts.",
    ),
    ChartRule(
        key="pharmacist",
        answer="urgent-exception",
        code="verified-as-urgent-exception",
        severity=Severity.CAUTION,
        says="No pharmacist has verified the order; it runs as an urgent exception. Have it verified soon.",
    ),
    ChartRule(
        key="allergy",
        answer="charted",
        code="allergy-charted",
        severity=Severity.STOP,
        says="An allergy to this drug is charted. Do not give it; call the prescriber.",
    ),
    ChartRule(
        key="allergy",
        answer="not-recorded",
        code="allergy-not-recorded",
        severity=Severity.CAUTION,
        says="The chart does not say whether the patient has an allergy to this drug. Ask the patient.",
    ),
    ChartRule(
        key="other_opioids",
        answer="charted",
        code="other-opioid-charted",
        severity=Severity.CAUTION,
        says="Another opioid is charted. Together they sedate more and slow breathing more.",
    ),
    ChartRule(
        key="sedatives",
        answer="charted",
        code="sedative-charted",
        severity=Severity.CAUTION,
        says="A sedative is charted. With an opioid it sedates more and slows breathing more.",
    ),
    ChartRule(
        key="neuraxial_opioid",
        answer="within-24-h",
        code="neuraxial-opioid-charted",
        severity=Severity.CAUTION,
        says="An epidural or spinal opioid was given in the last 24 h. It can slow breathing for hours yet.",
    ),
    ChartRule(
        key="able_to_use_button",
        answer="no",
        code="cannot-use-button",
        severity=Severity.STOP,
        says=(
            "The patient cannot use the button. Nobody may press it for the patient: "
            "that is another therapy and needs another order."
        ),
    ),
)


def chart_findings(first: ChartReading, second: ChartReading) -> list[Finding]:
    """What two readings of the chart come to; stops first, then in the order of the questions."""
    found = [*_not_alike(first, second), *_meanings(first, second)]
    order = list(Severity)
    return sorted(found, key=lambda finding: order.index(finding.severity))


def chart_of(answers: Answers) -> ChartReading:
    """The chart's answers in the words of its rules."""
    chart = dict(answers.get("chart", {}))
    if chart.get("weight") == NONE:
        chart["weight"] = "not-charted"
    return chart


def patient_facts(first: ChartReading, second: ChartReading) -> dict[str, str | bool]:
    """What the engine may know of the patient: only what both read alike."""
    facts: dict[str, str | bool] = {}
    weight = _alike("weight", first, second)
    if weight is not None and weight != "not-charted":
        facts["weight"] = weight
    tolerant = _alike("opioid_tolerant", first, second)
    if tolerant in {"yes", "no"}:
        facts["opioid_naive"] = tolerant == "no"
    return facts


def adult_fault(birth_date: date, on_date: date, site_age: int) -> Fault | None:
    """Why a person born then is too young on a day, where adults are at least `site_age` years old."""
    had_birthday = (on_date.month, on_date.day) >= (birth_date.month, birth_date.day)
    age = on_date.year - birth_date.year - (0 if had_birthday else 1)
    if age >= site_age:
        return None
    return Fault(
        code="not-adult",
        says="This tool is for adults only: use the children's protocol.",
    )


def _not_alike(first: ChartReading, second: ChartReading) -> Iterator[Finding]:
    for _, field in fields_judged_by(JudgedBy.CHART):
        key, words = field.name, field.words
        readings = {A: first.get(key), B: second.get(key)}
        lacking = [nurse(clinician) for clinician, reading in readings.items() if reading is None]
        if lacking:
            says = f"In the chart {words} was not read by {by_whom(lacking)}. It must be read first."
            yield _unsettled("reading-missing", key, readings, says)
        elif readings[A] != readings[B]:
            says = f"The two nurses read {words} in the chart differently. Both must look at the chart again."
            yield _unsettled("readings-differ", key, readings, says)


def _unsettled(code: str, key: str, readings: Mapping[str, str | None], says: str) -> Finding:
    return Finding(
        code=code,
        severity=Severity.STOP,
        field=field_named(key).finding,
        readings={f"{clinician}.chart": reading for clinician, reading in readings.items()},
        says=says,
        origin=Origin.READING,
    )


def _meanings(first: ChartReading, second: ChartReading) -> Iterator[Finding]:
    for rule in CHART_RULES:
        if _alike(rule.key, first, second) == rule.answer:
            yield Finding(
                code=rule.code,
                severity=rule.severity,
                field=field_named(rule.key).finding,
                readings={"A.chart": rule.answer, "B.chart": rule.answer},
                says=rule.says,
            )


def _alike(key: str, first: ChartReading, second: ChartReading) -> str | None:
    """The answer that both read; None where they did not."""
    answer = first.get(key)
    return answer if answer == second.get(key) else None
