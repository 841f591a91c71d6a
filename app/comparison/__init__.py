"""The comparison: two clinicians' readings -> findings, figures and a verdict, as CONTRACT.md has it."""

from app.comparison.case import Case, CaseError
from app.comparison.case_reader import read_case, read_without_library
from app.comparison.evaluation import evaluate, evaluate_primed
from app.comparison.findings import Finding, Origin
from app.comparison.result import ENGINE_VERSION, Result, Verdict, verdict_by
from app.comparison.worst_case import WorstCase, worst_cases
from app.records.followup import Severity

__all__ = [
    "ENGINE_VERSION",
    "Case",
    "CaseError",
    "Finding",
    "Origin",
    "Result",
    "Severity",
    "Verdict",
    "WorstCase",
    "evaluate",
    "evaluate_primed",
    "read_case",
    "read_without_library",
    "verdict_by",
    "worst_cases",
]
