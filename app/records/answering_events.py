"""Who answers for an infusion, beside whoever started it or took it over in a check; no value is in it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class BreakCovered(Event):
    """Whoever answers for it goes on a break; `covers` is the person who looks after it, until then."""

    kind: ClassVar[str] = "break-covered"
    covers: str
    until: str


@dataclass(frozen=True, kw_only=True)
class BreakOver(Event):
    """Whoever answers for it is back; `cover` is the position at which the cover began."""

    kind: ClassVar[str] = "break-over"
    cover: str
