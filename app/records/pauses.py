"""A pause of the line: short, by one nurse, with the device closed and its settings as they were."""

from dataclasses import dataclass
from datetime import datetime, timedelta

# Why a line is paused; while it was blocked, pressure has built up: that there is none cannot be.
OTHER = "other"
BLOCKED = frozenset({"occlusion-alarm", "kink"})
REASONS = BLOCKED | {"walk", OTHER}
# A check in which something of it is changed; nobody chooses it.
FOR_A_CHANGE = "change"

# What became of the pressure in the line: let go towards the patient it would be a dose.
LET_OUT, NO_PRESSURE = "let-out", "none"


@dataclass(frozen=True, kw_only=True)
class LineLook:
    """One nurse looked, and what was seen lets the line run on."""

    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Pause:
    """A pause that goes on; `position` is that of its entry in the log."""

    position: int
    at: datetime
    by: str
    why: str
    looks: tuple[LineLook, ...] = ()

    def needs_two(self, now: datetime, site_time: timedelta) -> bool:
        """Whether it was too long for one nurse; by a clock that was put back nobody can tell."""
        return not timedelta(0) <= now - self.at <= site_time

    def fresh_looks(self, now: datetime, valid: timedelta) -> tuple[LineLook, ...]:
        """The looks that are not older than a look may be, the newest of each person."""
        newest = {each.by: each for each in self.looks if timedelta(0) <= now - each.at <= valid}
        return tuple(newest.values())
