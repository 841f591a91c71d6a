"""When shifts change: the moments at which what the log is must be signed."""

import re
from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta, tzinfo

_TIME = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


def is_time_of_day(text: str) -> bool:
    """Whether a text says hours and minutes, such as 07:00."""
    return _TIME.fullmatch(text) is not None


def last_change(now: datetime, zone: tzinfo, changes: Sequence[str]) -> datetime:
    """The latest shift change that is not after now; `changes` are local times of day, and one at least."""
    today = now.astimezone(zone).date()
    # In UTC: Python compares two times of one zone by their clock faces, which an hour set back repeats.
    moments = [
        datetime.combine(day, time.fromisoformat(each), tzinfo=zone).astimezone(UTC)
        for day in (today, today - timedelta(days=1))
        for each in changes
    ]
    return max(each for each in moments if each <= now)
