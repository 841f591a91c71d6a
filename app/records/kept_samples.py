"""What an audit of a sample found of each check: every answer stays, and the last counts."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records.kept import Entry
from app.records.sample_events import SampleAnswered

CONFORMS, DEPARTS, NOT_ASSESSABLE = "conforms", "departs", "not-assessable"
ANSWERS = (CONFORMS, DEPARTS, NOT_ASSESSABLE)
REASONS = (
    "not-apart",
    "step-missing",
    "times",
    "caution",
    "stop",
    "chart",
    "papers-missing",
    "other",
)
"""Why a check does not conform, or could not be assessed, by key."""


@dataclass(frozen=True, kw_only=True)
class AuditAnswer:
    """One answer about one check: by whom and when."""

    answer: str
    reasons: tuple[str, ...]
    text: str
    by: str
    at: datetime


def answers_in(entries: Iterable[Entry], sample: str) -> Mapping[str, tuple[AuditAnswer, ...]]:
    """The answers of a sample by check, in their order."""
    found: dict[str, tuple[AuditAnswer, ...]] = {}
    for each in entries:
        event = each.event
        if isinstance(event, SampleAnswered) and event.sample == sample:
            said = AuditAnswer(
                answer=event.answer, reasons=event.reasons, text=event.text, by=each.by, at=each.at
            )
            found[event.audited] = (*found.get(event.audited, ()), said)
    return found


def fault_in(answer: str, reasons: tuple[str, ...]) -> tuple[str, ...]:
    """Which fields of an answer are lacking: whatever does not conform has a reason."""
    faults = {
        "answer": answer not in ANSWERS,
        "reasons": not {*reasons} <= {*REASONS} or (answer != CONFORMS and not reasons),
    }
    return tuple(name for name, is_wrong in faults.items() if is_wrong)
