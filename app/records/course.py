"""Which infusion a set-up at a bed belongs to: the one before it there, or a new one."""

from datetime import datetime, timedelta
from enum import StrEnum

from app.records.infusion import InfusionState
from app.records.state import CheckState


class Course(StrEnum):
    """What became of the infusion before, as the opener is told."""

    NEW = "new"
    GOES_ON = "goes on"
    STOPPED = "stopped"
    TOO_LONG_AGO = "too long ago"
    UNCHECKED = "running without a check"
    ON_PAPER = "checked on paper"
    LED_TO = "led to by another check"
    STARTED = "started before"


# The set-up belongs to the infusion before; after any other it begins a new one.
SAME_INFUSION = frozenset({Course.GOES_ON, Course.STOPPED, Course.UNCHECKED, Course.ON_PAPER, Course.LED_TO})


def course_after(
    before: InfusionState, last: CheckState | None, *, passes_on: timedelta, now: datetime
) -> Course:
    """What follows the bed's last infusion and the last of its checks, none of which is open.

    A set-up that was abandoned, and an infusion that was stopped, pass the infusion on for the site's time:
    after it, another patient may well lie there. One that was cleared and never started has put a syringe to
    use, and passes nothing on; where it was started and nobody has written down a stop, it may still run.
    """
    if before.ended_at is not None:
        return Course.NEW
    if before.is_unchecked:
        return Course.ON_PAPER if before.on_paper else Course.UNCHECKED
    if before.is_running:
        # What a check of the running device found is put right in a set-up of the same infusion.
        return Course.LED_TO if before.led_to else Course.STARTED
    abandoned_at = last.abandoned_at if last else None
    if before.last_run is not None:
        stopped_at = before.last_run.stopped_at
        since = max(each for each in (stopped_at, abandoned_at) if each is not None)
        return Course.STOPPED if now - since <= passes_on else Course.TOO_LONG_AGO
    if before.ever_checked or abandoned_at is None:
        return Course.NEW
    return Course.GOES_ON if now - abandoned_at <= passes_on else Course.TOO_LONG_AGO
