"""The outcome of a comparison."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from app.comparison.figures import Figures
from app.comparison.findings import Finding
from app.records.followup import Severity
from app.records.formats import RESULT
from app.records.kept import A, B

ENGINE_VERSION = "0.1.0"


class Verdict(StrEnum):
    """What the findings come to."""

    AGREED = "agreed"
    CAUTIONED = "cautioned"
    STOPPED = "stopped"


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """Findings, the worst first, and the figures of A and B."""

    verdict: Verdict
    not_judged: tuple[str, ...]
    """What nobody looked at, as the site has set nothing."""
    findings: tuple[Finding, ...]
    figures: tuple[Figures, Figures]

    def as_json(self) -> dict[str, Any]:
        """As the contract writes it."""
        first, second = self.figures
        by_clinician = {A: first, B: second}
        # Sources that state the same share their figures, and these are written once.
        distinct = {id(math): math for each in self.figures for math in (each.order, each.device)}
        written = {key: math.as_json() for key, math in distinct.items()}
        return {
            "format": RESULT.newest,
            "engine": ENGINE_VERSION,
            "verdict": self.verdict.value,
            "not_judged": list(self.not_judged),
            "findings": [finding.as_json() for finding in self.findings],
            "math": {
                clinician: {"order": written[id(each.order)], "device": written[id(each.device)]}
                for clinician, each in by_clinician.items()
            },
            "delivery": {clinician: each.delivery.as_json() for clinician, each in by_clinician.items()},
        }


def verdict_by(severities: Iterable[str]) -> Verdict:
    """Stopped by any stop, else cautioned by any caution, else agreed."""
    found = set(severities)
    if Severity.STOP in found:
        return Verdict.STOPPED
    return Verdict.CAUTIONED if Severity.CAUTION in found else Verdict.AGREED
