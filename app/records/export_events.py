"""That something was exported, as the log has it."""

from dataclasses import dataclass
from typing import ClassVar

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
