"""That something was exported, as the log has it."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar
from zoneinfo import ZoneInfo

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class Exported(Event):
    """Somebody exported what has ended; what was asked for, never what came out."""

    kind: ClassVar[str] = "exported"
    export: str
    form: str
    from_date: str
    to_date: str
    deidentified: bool

    def has(self, ended_at: datetime, zone: ZoneInfo) -> bool:
        """Whether what ended at a moment is on one of its days."""
        return self.from_date <= ended_at.astimezone(zone).date().isoformat() <= self.to_date


def export_look(export: str) -> str:
    """How a look is listed that is one at every check in an export: rows for each would be too many."""
    return f"export: {export}"
