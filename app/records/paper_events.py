"""What was checked on paper while the program was down, typed in later: what paper said, judged by nobody.

These events alone hold what somebody read. Nothing of it reaches whoever reads blind at the bed.
"""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class PaperTranscribed(Event):
    """One typed in what two sheets of paper say of an infusion that runs without a check.

    `checked_at`, `first` and `second` are when and by whom, as on paper. Each of `rows` is a source, a row of
    the sheet, what sheet 1 says, and what sheet 2 says where that is something else. `corrects` is the
    position of an earlier transcription, which stays.
    """

    kind: ClassVar[str] = "paper-transcribed"
    checked_at: str
    first: str
    second: str
    rows: tuple[tuple[str, str, str, str], ...]
    corrects: str = ""

    @property
    def differing(self) -> tuple[tuple[str, str], ...]:
        """Where the two sheets say something else, by source and row."""
        return tuple((source, row) for source, row, _, second in self.rows if second)


@dataclass(frozen=True, kw_only=True)
class PaperConfirmed(Event):
    """Another one held a transcription, the entry at this position, beside the sheets: the same, or not."""

    kind: ClassVar[str] = "paper-confirmed"
    transcription: str
    same: bool
