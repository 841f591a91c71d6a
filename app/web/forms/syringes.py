"""Where a page of accounts that did not add up begins, as it stands in the address."""

from datetime import datetime

from app.storage import is_storable

_SEPARATOR = "~"


def write_account_place(place: tuple[datetime, str]) -> str:
    """When its last check ended, and which that was."""
    return _SEPARATOR.join((place[0].isoformat(), place[1]))


def find_account_place(text: str) -> tuple[datetime, str] | None:
    """What `write_account_place` wrote; None for anything else."""
    at, _, check = text.partition(_SEPARATOR)
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return None
    return (moment, check) if check and moment.tzinfo is not None and is_storable(check) else None
