"""What was written down about a stop of the device, as pages show it."""

from dataclasses import dataclass
from datetime import datetime

from app.words.names import STOP_REASONS


@dataclass(frozen=True, kw_only=True)
class StopShown:
    """One note; `stated`: when it was stopped, as far as it was told. `misplaced`: it was another bed.

    `note` is its number, for whoever may say so.
    """

    by: str
    at: datetime
    stated: str | datetime
    why: str
    totals: str
    misplaced: bool
    note: int | None = None


def stop_shown(
    *,
    by: str,
    at: datetime,
    stopped_at: str,
    why: str,
    totals: str,
    misplaced: bool,
    note: int | None = None,
) -> StopShown:
    """A note with the words of its reason."""
    return StopShown(
        by=by,
        at=at,
        stated=_stated(stopped_at),
        why=STOP_REASONS.get(why, ""),
        totals=totals,
        misplaced=misplaced,
        note=note,
    )


def _stated(text: str) -> str | datetime:
    """A moment where one was understood; anything else as it was typed."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return text
    return moment if moment.tzinfo else text
