"""Which infusion a set-up at a bed belongs to: the one before it there, or a new one."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from enum import StrEnum

from app.records.state import CheckState


class Course(StrEnum):
    """What became of the infusion before, as the opener is told."""

    NEW = "new"
    GOES_ON = "goes on"
    TOO_LONG_AGO = "too long ago"
    UNCHECKED = "running without a check"
    STARTED = "started before"


def course_after(before: Sequence[CheckState], *, passes_on: timedelta, now: datetime) -> Course:
    """What follows the checks of the bed's last infusion, of which none is open.

    A set-up that was abandoned passes its infusion on for the site's time: after it, another patient may well
    lie there. One that was ever cleared has put a syringe to use, and passes nothing on; where it was started
    and nobody has written down a stop, it may still run.
    """
    if before and before[-1].started_at is not None and not before[-1].is_stopped:
        return Course.STARTED
    if not before or any(each.ever_cleared for each in before):
        return Course.NEW
    ended_at = before[-1].abandoned_at
    if ended_at is None:
        return Course.NEW
    return Course.GOES_ON if now - ended_at <= passes_on else Course.TOO_LONG_AGO
