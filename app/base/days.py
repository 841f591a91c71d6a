"""Days and moments as they come from outside; none so far off that a zone carries it out of the calendar."""

from datetime import UTC, date, datetime

FIRST_YEAR, LAST_YEAR = 1900, 2999


def is_near(day: date) -> bool:
    """Whether a day, or a moment, lies in years that anybody can mean."""
    return FIRST_YEAR <= day.year <= LAST_YEAR


def read_day(text: str) -> date | None:
    """A date as `YYYY-MM-DD` and in no other way; None for anything else."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if found.isoformat() == text and is_near(found) else None


def read_moment(text: str) -> datetime | None:
    """A moment of ISO 8601 with its offset, in UTC; None for anything else."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found.astimezone(UTC) if found.tzinfo is not None and is_near(found) else None
