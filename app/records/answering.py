"""Who answers for an infusion now: whoever started it or took it over, and who covers a break meanwhile."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class Cover:
    """A break that goes on: a colleague looks after it until then; `position` is that of its entry."""

    position: int
    since: datetime
    covers: str
    until: datetime

    def is_overdue(self, now: datetime) -> bool:
        """Whether the break is longer than the site allows: then it becomes a handoff."""
        return now > self.until

    def may_give(self, person: str) -> bool:
        """Whether this person may give a bolus: whoever covers pauses, stops and answers alarms alone."""
        return person != self.covers
