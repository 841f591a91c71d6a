"""Which infusion a set-up belongs to."""

from datetime import timedelta

import pytest

from app.records.course import Course, course_after
from app.records.events import DeviceStopped, StartedWithoutCheck
from app.records.infusion import fold_infusion
from app.records.kinds import RE_CHECK
from tests.story.events import RUTH, Story

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
