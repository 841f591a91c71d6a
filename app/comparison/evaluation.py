"""The engine: a case -> its result."""

from collections.abc import Iterable, Mapping

from app.comparison.agreement import agreement_findings
from app.comparison.case import Case
from app.comparison.dangers import Danger, View, dangers_of_device, primed_volume_dangers
from app.comparison.figures import Figures, figures_of, primed_drug_of
from app.comparison.findings import Finding, place_of
from app.comparison.library_rules import dangers_by_library
from app.comparison.patient_rules import patient_findings, primed_volume_findings
from app.comparison.result import Result, verdict_by
from app.comparison.said_once import said_once
from app.comparison.shown_readings import shown_readings
from app.comparison.wording import nurse
from app.quantities import Quantity
from app.records.kept import LETTERS, A, B

# What is said, by code and field.
_Said = Mapping[tuple[str, str], str]

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


def evaluate_primed(case: Case, clinician: str) -> tuple[tuple[Finding, ...], Quantity | None]:
    """What of the result is about the primed volume: its findings, and the drug run out by one's readings.

    Neither needs a dose or the library, and both are as `evaluate` gives them.
    """
    first, second = (_said(primed_volume_dangers(case, entry)) for entry in case.entries)
    findings = (*primed_volume_findings(case), *_of_both(case, first, second))
    own = LETTERS.index(clinician)
    return tuple(sorted(findings, key=place_of)), primed_drug_of(case.entries[own], case.entries[1 - own])


def _danger_findings(case: Case, figures: tuple[Figures, Figures]) -> list[Finding]:
    first, second = case.entries
    of_first, of_second = figures
    return _of_both(
        case,
        _dangers(View(case=case, entry=first, figures=of_first)),
        _dangers(View(case=case, entry=second, figures=of_second)),
    )


def _of_both(case: Case, by_first: _Said, by_second: _Said) -> list[Finding]:
    """What both show is one finding; what one alone shows says whose readings do."""
    return [
        _finding(case, code, field, {A: by_first.get((code, field)), B: by_second.get((code, field))})
        for code, field in {**by_first, **by_second}
    ]


def _dangers(view: View) -> _Said:
    """What one clinician's readings show, each fact once: what is said of it, by code and field."""
    found = (*dangers_of_device(view), *dangers_by_library(view))
    return said_once(view, _said(found))


def _said(dangers: Iterable[Danger]) -> _Said:
    return {(danger.code, danger.field): danger.says for danger in dangers}


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
