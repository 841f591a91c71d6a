"""What people state of time, beside when the server wrote it down."""

from datetime import UTC, datetime, timedelta

LONGEST_AGO = timedelta(days=30)
"""What is stated to have been earlier than that before it was written has the wrong year, or month."""


def stated(text: str, written_at: datetime) -> datetime:
    """The moment that somebody stated, where it is one: not later than it was written, nor long before."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return written_at
    is_one = at.tzinfo is not None and written_at - LONGEST_AGO <= at <= written_at
    return at.astimezone(UTC) if is_one else written_at
