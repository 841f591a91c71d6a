"""What both readings together say: what the chart's answers mean, and whether the primed volumes fit."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.comparison.case import Case
from app.comparison.chart import differently_read_risks
from app.comparison.dangers import risks_in_words
from app.comparison.fields import RISKS
from app.comparison.findings import Finding, Origin
from app.comparison.shown_readings import shown_readings
from app.comparison.wording import listed, typed, words_of
from app.records.sources import Source


@dataclass(frozen=True, kw_only=True, slots=True)
class AnswerRule:
    """What one answer of the chart means, once both have read it alike."""

    field: str
    answer: str
    code: str
    says: str


ANSWER_RULES = (
    AnswerRule(
        field="chart.order_current",
        answer="no",
        code="order-not-current",
        says="The order is not current or not signed. Nothing may be given on it.",
    ),
    AnswerRule(
        field="chart.pharmacist",
        answer="not-yet",
        code="order-not-verified",
        says="No pharmacist has reviewed the order yet. It must be reviewed before the infusion starts.",
    ),
    AnswerRule(
        field="chart.pharmacist",
        answer="urgent-exception",
        code="verified-as-urgent-exception",
        says="No pharmacist has reviewed the order; it runs as an urgent exception. Have it reviewed soon.",
    ),
    AnswerRule(
        field="chart.allergy",
        answer="to-this-drug-or-its-family",
        code="allergy-charted",
        says="An allergy to this drug or its family is charted. Do not give it; call the prescriber.",
    ),
    AnswerRule(
        field="chart.allergy",
        answer="intolerance-reviewed",
        code="intolerance-reviewed",
        says="An intolerance of this drug is charted, and it was reviewed. Watch for it.",
    ),
    AnswerRule(
        field="chart.allergy",
        answer="not-recorded",
        code="allergy-not-recorded",
        says="The chart does not say whether the patient has an allergy to this drug. Ask the patient.",
    ),
    AnswerRule(
        field="chart.able_to_use_button",
        answer="no",
        code="cannot-use-button",
        says=(
            "The patient cannot use the button. Nobody may press it for the patient: "
            "that is another therapy and needs another order."
        ),
    ),
)
_OF_PHARMACIST = frozenset({"order-not-verified", "verified-as-urgent-exception"})


def patient_findings(case: Case, *, is_said_of_continuous: bool) -> Iterator[Finding]:
    """What the chart's answers come to; none where no chart is read.

    `is_said_of_continuous`: a continuous part in a patient at risk was found, which says the same and more.
    """
    bearing = case.bearing
    if bearing is None:
        return
    yield from _meanings(case)
    if bearing.neuraxial_running:
        says = (
            "An epidural or spinal opioid is running. Two opioids at once add up and can stop the breathing."
        )
        yield _finding(case, "neuraxial-opioid-running", "chart.neuraxial_opioid", says)
    said = {"neuraxial-opioid"} if bearing.neuraxial_running else set[str]()
    if set(bearing.reasons) - said and not is_said_of_continuous:
        says = (
            f"Opioids are more dangerous for this patient: {risks_in_words(bearing.reasons)}. "
            "Watch sedation and breathing more closely."
        )
        yield _finding(case, "patient-at-risk", "patient", says, reasons=bearing.reasons)
    yield from _differently_read(case)


def _meanings(case: Case) -> Iterator[Finding]:
    first, second = (entry.source(Source.CHART) for entry in case.entries)
    for rule in ANSWER_RULES:
        is_asked = case.policy.pharmacist_required or rule.code not in _OF_PHARMACIST
        if is_asked and first.find_text(rule.field) == rule.answer == second.find_text(rule.field):
            yield _finding(case, rule.code, rule.field, rule.says)


def _differently_read(case: Case) -> Iterator[Finding]:
    first, second = (entry.source(Source.CHART) for entry in case.entries)
    fields = differently_read_risks(first, second, RISKS)
    if fields:
        says = (
            f"The two nurses read {listed([words_of(field) for field in fields])} in the chart differently. "
            "The answer with more risk counts."
        )
        yield _finding(
            case, "risk-read-differently", "patient", says, origin=Origin.READING, fields=tuple(fields)
        )


def primed_volume_findings(case: Case) -> Iterator[Finding]:
    """Two readings of the primed volume that lie too far apart."""
    first, second = (entry.primed_volume for entry in case.entries)
    if first is None or second is None:
        return
    if abs(first.value - second.value) > (case.policy.prime_tolerance or 0):
        says = (
            f"The two nurses read the primed volume differently: {typed(first)} and "
            f"{typed(second)}. Look again at what ran out at priming."
        )
        yield _finding(case, "primed-volume-differs", "primed_volume", says, origin=Origin.READING)


def _finding(
    case: Case,
    code: str,
    field: str,
    says: str,
    *,
    origin: Origin | None = None,
    reasons: tuple[str, ...] = (),
    fields: tuple[str, ...] = (),
) -> Finding:
    return Finding(
        code=code,
        severity=case.policy.severity_of(code),
        field=field,
        readings=shown_readings(case, field),
        says=says,
        origin=origin,
        reasons=reasons,
        fields=fields,
    )
