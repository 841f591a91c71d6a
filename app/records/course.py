"""Which infusion a set-up at a bed belongs to: the one before it there, or a new one."""

from datetime import datetime, timedelta
from enum import StrEnum

from app.records.infusion import InfusionState
from app.records.kinds import DEVICE_CHANGE, Kind, Opens
from app.records.state import CheckState


class Course(StrEnum):
    """What became of the infusion before, as the opener is told."""

    NEW = "new"
    GOES_ON = "goes on"
    ISSUED = "a syringe was issued for it"
    STOPPED = "stopped"
    TOO_LONG_AGO = "too long ago"
    UNCHECKED = "running without a check"
    ON_PAPER = "checked on paper"
    LED_TO = "led to by another check"
    STARTED = "started before"


# The set-up belongs to the infusion before; after any other it begins a new one.
SAME_INFUSION = frozenset(
    {
        Course.GOES_ON,
        Course.ISSUED,
        Course.STOPPED,
        Course.UNCHECKED,
        Course.ON_PAPER,
        Course.LED_TO,
    }
)


def course_after(
    before: InfusionState,
    last: CheckState | None,
    *,
    passes_on: timedelta,
    now: datetime,
    issued_at: datetime | None = None,
) -> Course:
    """What follows the bed's last infusion and the last of its checks, none of which is open.

    A set-up that was abandoned, and an infusion that was stopped, pass the infusion on for the site's time:
    after it, another patient may well lie there. One that was cleared and never started has put a syringe to
    use, and passes nothing on; where it was started and nobody has written down a stop, it may still run.
    `issued_at`: a syringe that was issued for it then is out; without any check it waits for its set-up.
    """
    if before.ended_at is not None:
        return Course.NEW
    if before.is_unchecked:
        return Course.ON_PAPER if before.on_paper else Course.UNCHECKED
    if before.is_running:
        # What a check of the running device found is put right in a set-up of the same infusion.
        return Course.LED_TO if before.led_to or before.waits else Course.STARTED
    abandoned_at = last.abandoned_at if last else None
    if before.last_run is not None:
        stopped_at = before.last_run.stopped_at
        since = max(each for each in (stopped_at, abandoned_at) if each is not None)
        # What an emergency left on it waits for no time to pass: only its end frees the bed.
        return Course.STOPPED if before.is_held_back or now - since <= passes_on else Course.TOO_LONG_AGO
    begun = [each for each in (abandoned_at, issued_at) if each is not None]
    if before.ever_checked or not begun or (last is not None and abandoned_at is None):
        return Course.NEW
    if now - max(begun) > passes_on:
        return Course.TOO_LONG_AGO
    return Course.ISSUED if abandoned_at is None else Course.GOES_ON


class Bar(StrEnum):
    """What stands against opening a check of a kind on an infusion."""

    NOT_RUNNING = "it does not run, or was stopped too long ago"
    RUNS = "it runs, and so is checked as what runs"
    NOT_CHECKED = "no two nurses have checked what runs"
    CLOSED = "it has ended, and two have closed its account"
    NOT_TAKEN = "it was not taken from another unit, or two have checked it since"
    LED_ELSEWHERE = "an earlier check led to one of another kind"
    DEAD = "its device is dead and shows nothing: another comes first"
    DEAD_ANEW = "its device is dead and shows nothing, and no other device alone brings what must come first"


def find_bar(kind: Kind, before: InfusionState, *, passes_on: timedelta, now: datetime) -> Bar | None:
    """What stands against it, if anything; to change what was stopped there is the site's time.

    Nothing is changed or handed over of what nobody has checked: a check of what runs reads it first. What
    was started is ended at any time, once. A device that is dead is read for another one alone.
    """
    if before.closed_at is not None:
        return Bar.CLOSED
    if kind.ends or kind.opens is Opens.STANDING:
        return _bar_of_what_stands(kind, before)
    if not _may_run_on(kind, before, passes_on=passes_on, now=now):
        return Bar.NOT_RUNNING
    dead = _bar_of_a_dead_device(kind, before)
    if dead is not None:
        return dead
    if (kind.changes or kind.is_held_beside) and not before.in_force:
        return Bar.NOT_CHECKED
    if kind.opens is Opens.TAKEN and before.transfer is None:
        return Bar.NOT_TAKEN
    return Bar.LED_ELSEWHERE if kind.changes and before.led_to not in ("", kind.name) else None


def _may_run_on(kind: Kind, before: InfusionState, *, passes_on: timedelta, now: datetime) -> bool:
    """Whether it runs, or was stopped so lately that something of it is changed before it runs on."""
    if not (kind.changes and before.is_stopped):
        return before.is_running
    run = before.last_run
    assert run is not None  # noqa: S101  # it was stopped
    assert run.stopped_at is not None  # noqa: S101  # likewise
    # What an emergency left on it waits for no time to pass.
    return now - run.stopped_at <= passes_on or before.is_held_back


def _bar_of_a_dead_device(kind: Kind, before: InfusionState) -> Bar | None:
    stands = before.emergencies
    if stands.dead is None:
        return None
    alone = stands.hold is None and stands.absence is None and before.led_to in ("", DEVICE_CHANGE.name)
    if not (alone and before.in_force):
        return Bar.DEAD_ANEW
    return None if kind is DEVICE_CHANGE else Bar.DEAD


def is_of_taken(kind: Kind, before: InfusionState) -> bool:
    """Whether its two are whoever sent a patient to another unit and whoever took the patient there."""
    return before.transfer is not None and kind.opens in {Opens.TAKEN, Opens.STANDING}


def _bar_of_what_stands(kind: Kind, before: InfusionState) -> Bar | None:
    if not before.runs:
        return Bar.NOT_RUNNING
    return None if kind.ends or before.stands else Bar.RUNS
