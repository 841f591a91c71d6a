"""Which infusion a set-up belongs to."""

from datetime import timedelta

import pytest

from app.records.course import Bar, Course, course_after, find_bar
from app.records.emergency_events import DeviceDied, ReversalGiven, WentAway
from app.records.ending_events import InfusionEnded
from app.records.events import DeviceStopped, Event, LedToCheck, StartedWithoutCheck
from app.records.infusion import fold_infusion
from app.records.kinds import (
    DEVICE_CHANGE,
    END_OF_PCA,
    HANDOFF,
    HANDOFF_STANDING,
    KINDS,
    RE_CHECK,
    SETTINGS_CHANGE,
    Kind,
    Opens,
)
from tests.records.test_account import Course as Infusion
from tests.story.events import BEGAN, RUTH, Story

LIMIT = timedelta(hours=12)
PASSED = LIMIT + timedelta(seconds=1)


def after(told: Story, *, later: timedelta = timedelta(0)) -> Course:
    return course_after(told.infusion(), told.state(), passes_on=LIMIT, now=told.now + later)


def abandoned() -> Story:
    return Story().found().abandoned()


def ended(told: Story) -> Story:
    return told.tell(DeviceStopped(stopped_at="", why="end-of-therapy", totals=""), by=RUTH)


@pytest.mark.parametrize(
    ("later", "course"),
    [(timedelta(0), Course.GOES_ON), (LIMIT, Course.GOES_ON), (PASSED, Course.TOO_LONG_AGO)],
)
def test_what_was_abandoned_passes_it_on_for_a_time(later: timedelta, course: Course) -> None:
    assert after(abandoned(), later=later) is course


@pytest.mark.parametrize("told", [Story().cleared(), Story().cleared().next_reading("device").abandoned()])
def test_what_was_cleared_and_never_started_does_not(told: Story) -> None:
    assert after(told) is Course.NEW


def test_what_was_started_may_still_run_until_a_stop_is_written_down() -> None:
    assert after(Story().cleared().started()) is Course.STARTED
    assert after(Story().cleared().started(), later=timedelta(days=9)) is Course.STARTED


@pytest.mark.parametrize(
    ("later", "course"),
    [(timedelta(0), Course.STOPPED), (LIMIT, Course.STOPPED), (PASSED, Course.TOO_LONG_AGO)],
)
def test_what_was_stopped_passes_it_on_for_a_time(later: timedelta, course: Course) -> None:
    assert after(Story().cleared().started().stopped(), later=later) is course


def test_a_set_up_that_came_to_nothing_after_the_stop_begins_the_time_anew() -> None:
    told = Story().cleared().started().stopped()
    infusion, stopped_at = told.infusion(), told.now
    again = abandoned().state(later=timedelta(0))
    assert again.abandoned_at is not None
    moments = (max(stopped_at, again.abandoned_at) + LIMIT, max(stopped_at, again.abandoned_at) + PASSED)

    courses = [course_after(infusion, again, passes_on=LIMIT, now=now) for now in moments]
    assert courses == [Course.STOPPED, Course.TOO_LONG_AGO]


@pytest.mark.parametrize(
    "told", [Story().cleared().started(), Story().cleared().started().stopped(), abandoned()]
)
def test_what_has_ended_passes_nothing_on(told: Story) -> None:
    assert after(ended(told)) is Course.NEW


def test_what_runs_without_a_check_gets_the_check_that_it_lacks_however_late() -> None:
    told = Story().tell(StartedWithoutCheck(reason="nobody free", started_at=""))
    infusion = told.infusion()

    assert course_after(infusion, None, passes_on=LIMIT, now=told.now + timedelta(days=9)) is Course.UNCHECKED
    assert after(told.stopped(), later=PASSED) is Course.UNCHECKED
    assert after(ended(told)) is Course.NEW


def test_an_infusion_of_which_nothing_is_known_passes_nothing_on() -> None:
    nothing = fold_infusion("infusion-1", ())

    assert course_after(nothing, None, passes_on=LIMIT, now=Story().opened().now) is Course.NEW
    assert after(Story().found()) is Course.NEW


def test_what_a_check_of_the_running_device_led_to_is_of_the_same_infusion() -> None:
    running, led = Story().cleared().started(), Story(kind=RE_CHECK).found().led_on()
    before = fold_infusion("infusion-1", (*running.entries, *led.entries))

    later = led.now + timedelta(days=9)
    assert course_after(before, led.state(), passes_on=LIMIT, now=later) is Course.LED_TO
    done = Story(kind=RE_CHECK).found().frozen().signed().done()
    before = fold_infusion("infusion-1", (*running.entries, *done.entries))
    assert course_after(before, done.state(), passes_on=LIMIT, now=done.now) is Course.STARTED


def bar(kind: Kind, told: Story, *, later: timedelta = timedelta(0)) -> Bar | None:
    return find_bar(kind, told.infusion(), passes_on=LIMIT, now=told.now + later)


def test_what_runs_is_checked_again_and_changed() -> None:
    told = Story().cleared().started()

    assert bar(RE_CHECK, told) is bar(SETTINGS_CHANGE, told) is None


def test_what_was_stopped_is_changed_within_the_sites_time_and_never_checked_as_if_it_ran() -> None:
    told = Story().cleared().started().stopped()

    assert bar(RE_CHECK, told) is Bar.NOT_RUNNING
    assert bar(SETTINGS_CHANGE, told, later=LIMIT) is None
    assert bar(SETTINGS_CHANGE, told, later=PASSED) is Bar.NOT_RUNNING


@pytest.mark.parametrize("kind", [RE_CHECK, SETTINGS_CHANGE])
def test_what_never_started_or_has_ended_is_neither(kind: Kind) -> None:
    assert bar(kind, Story().cleared()) is Bar.NOT_RUNNING
    assert bar(kind, ended(Story().cleared().started())) is Bar.NOT_RUNNING


def test_what_nobody_has_checked_is_checked_before_it_is_changed() -> None:
    told = Story().tell(StartedWithoutCheck(reason="", started_at=""), by=RUTH)

    assert (bar(RE_CHECK, told), bar(SETTINGS_CHANGE, told)) == (None, Bar.NOT_CHECKED)


@pytest.mark.parametrize(("to", "barred"), [("settings-change", None), ("set-up", Bar.LED_ELSEWHERE)])
def test_what_an_earlier_check_led_to_comes_first(to: str, barred: Bar | None) -> None:
    told = Story().cleared().started().tell(LedToCheck(check_kind=to))

    assert bar(SETTINGS_CHANGE, told) is barred


def test_what_was_started_is_ended_once_and_nothing_is_opened_on_it_afterwards() -> None:
    def bar(told: Story, kind: Kind) -> Bar | None:
        return find_bar(kind, told.infusion(), passes_on=LIMIT, now=told.now)

    assert bar(Story().cleared(), END_OF_PCA) is Bar.NOT_RUNNING
    assert bar(Story().cleared().started(), END_OF_PCA) is None
    # However long ago it was stopped.
    stopped = Story().cleared().started().stopped()
    assert find_bar(END_OF_PCA, stopped.infusion(), passes_on=LIMIT, now=stopped.now + PASSED) is None
    closed = Story().cleared().started().tell(InfusionEnded(check_kind=END_OF_PCA.name))
    assert {bar(closed, kind) for kind in (END_OF_PCA, RE_CHECK, SETTINGS_CHANGE)} == {Bar.CLOSED}


def test_what_stands_is_handed_over_as_it_stands_and_what_runs_is_not() -> None:
    at, hours = BEGAN, timedelta(hours=8)
    stands = Infusion().starts("a").tell(DeviceStopped(stopped_at="", why="other", totals=""))
    for course, bar in ((Infusion().starts("a"), Bar.RUNS), (stands, None), (Infusion(), Bar.NOT_RUNNING)):
        state = fold_infusion("infusion-1", course.entries)
        assert find_bar(HANDOFF_STANDING, state, passes_on=hours, now=at) is bar


def tells(told: Story, *events: Event) -> Story:
    for each in events:
        told.tell(each)
    return told


def test_a_dead_device_shows_nothing_and_is_read_by_no_check_but_for_another_one() -> None:
    """It was paused by whoever found it: by the log it runs."""
    runs = Infusion().starts("a").tell(DeviceDied())
    dead = fold_infusion("infusion-1", runs.entries)
    assert (dead.is_running, dead.shows_what_runs, dead.stands, dead.end_is_due) == (True, False, True, False)
    others = {each.name for each in KINDS.values() if each.opens is not Opens.BED}
    started = Story().cleared().started().tell(DeviceDied())
    found = {name: bar(KINDS[name], started) for name in others}
    allowed = {DEVICE_CHANGE.name, HANDOFF_STANDING.name, END_OF_PCA.name}
    assert found == {name: None if name in allowed else Bar.DEAD for name in others}


@pytest.mark.parametrize(
    "more",
    [
        (LedToCheck(check_kind="settings-change"),),
        (ReversalGiven(note=""),),
        (WentAway(note="", what="mri"),),
    ],
)
def test_of_a_dead_device_only_a_set_up_brings_the_rest_that_must_come_first(more: tuple[Event, ...]) -> None:
    told = tells(Story().cleared().started(), *more, DeviceDied())
    assert {bar(each, told) for each in (HANDOFF, RE_CHECK, DEVICE_CHANGE)} == {Bar.DEAD_ANEW}
    assert bar(HANDOFF_STANDING, told) is None
    to_it = tells(Story().cleared().started(), LedToCheck(check_kind=DEVICE_CHANGE.name), DeviceDied())
    assert bar(DEVICE_CHANGE, to_it) is None


def test_what_nobody_has_checked_and_whose_device_died_is_set_up() -> None:
    told = tells(Story(), StartedWithoutCheck(reason="", started_at=""), DeviceDied())
    assert {bar(each, told) for each in (RE_CHECK, DEVICE_CHANGE)} == {Bar.DEAD_ANEW}
