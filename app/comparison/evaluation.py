"""The engine: a case -> its result."""

from collections.abc import Mapping

from app.comparison.agreement import agreement_findings
from app.comparison.case import Case
from app.comparison.dangers import View, dangers_of_device
from app.comparison.figures import Figures, figures_of
from app.comparison.findings import Finding, place_of
from app.comparison.library_rules import dangers_by_library
from app.comparison.patient_rules import patient_findings, primed_volume_findings
from app.comparison.result import Result, verdict_by
from app.comparison.said_once import said_once
from app.comparison.shown_readings import shown_readings
from app.comparison.wording import nurse
from app.records.kept import A, B

_AT_RISK = "continuous-in-patient-at-risk"


def evaluate(case: Case) -> Result:
    """Compares all readings, computes all figures, and finds every disagreement and danger."""
    figures = figures_of(case)
    dangers = _danger_findings(case, figures)
    is_said_of_continuous = any(danger.code == _AT_RISK for danger in dangers)
    findings = (
        *agreement_findings(case, figures[0].delivery.strength),
        *primed_volume_findings(case),
        *patient_findings(case, is_said_of_continuous=is_said_of_continuous),
        *dangers,
    )
    ordered = tuple(sorted(findings, key=place_of))
    return Result(
        verdict=verdict_by(each.severity for each in ordered),
        not_judged=case.not_judged,
        findings=ordered,
        figures=figures,
    )


def _danger_findings(case: Case, figures: tuple[Figures, Figures]) -> list[Finding]:
    """What both show is one finding; what one alone shows says whose readings do."""
    first, second = case.entries
    of_first, of_second = figures
    by_first = _dangers(View(case=case, entry=first, figures=of_first))
    by_second = _dangers(View(case=case, entry=second, figures=of_second))
    return [
        _finding(case, code, field, {A: by_first.get((code, field)), B: by_second.get((code, field))})
        for code, field in {**by_first, **by_second}
    ]


def _dangers(view: View) -> dict[tuple[str, str], str]:
    """What one clinician's readings show, each fact once: what is said of it, by code and field."""
    found = (*dangers_of_device(view), *dangers_by_library(view))
    return said_once(view, {(danger.code, danger.field): danger.says for danger in found})


def _finding(case: Case, code: str, field: str, said: Mapping[str, str | None]) -> Finding:
    says = {clinician: sentence for clinician, sentence in said.items() if sentence is not None}
    shown_by_both = says.keys() == said.keys()
    return Finding(
        code=code,
        severity=case.policy.severity_of(code),
        field=field,
        readings=shown_readings(case, field),
        says=_said_by_each(says, shown_by_both=shown_by_both),
        clinician=None if shown_by_both else next(iter(says)),
        reasons=case.bearing.reasons if case.bearing is not None and code == _AT_RISK else (),
    )


def _said_by_each(says: Mapping[str, str], *, shown_by_both: bool) -> str:
    """One sentence for both; where they differ, each before whose readings it is about."""
    sentences = list(dict.fromkeys(says.values()))
    if shown_by_both and len(sentences) == 1:
        return sentences[0]
    return " ".join(f"{sentence} (So {nurse(clinician)} read it.)" for clinician, sentence in says.items())
