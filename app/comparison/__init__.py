"""The comparison: two clinicians' readings -> findings, figures and a verdict, as CONTRACT.md has it."""

from app.comparison.case import Case, CaseError
from app.comparison.case_reader import read_case
from app.comparison.evaluation import evaluate
from app.comparison.findings import Finding, Origin, Severity
from app.comparison.result import ENGINE_VERSION, Result, Verdict

__all__ = [
    "ENGINE_VERSION",
    "Case",
    "CaseError",
    "Finding",
    "Origin",
    "Result",
    "Severity",
    "Verdict",
    "evaluate",
    "read_case",
]
