"""Which infusion a set-up belongs to."""

from datetime import timedelta

import pytest

from app.records.course import Course, course_after
from tests.factories.story import Story

LIMIT = timedelta(hours=12)


def after(*told: Story, later: timedelta = timedelta(0)) -> Course:
    states = [each.state() for each in told]
    now = told[-1].now + later if told else None
    assert now is None or states
    return course_after(states, passes_on=LIMIT, now=now or Story().opened().now)


def abandoned() -> Story:
    return Story().found().abandoned()


def test_where_there_was_none_it_is_a_new_one() -> None:
    assert after() is Course.NEW


@pytest.mark.parametrize(
    ("later", "course"),
    [
        (timedelta(0), Course.GOES_ON),
        (LIMIT, Course.GOES_ON),
        (LIMIT + timedelta(seconds=1), Course.TOO_LONG_AGO),
    ],
)
def test_what_was_abandoned_passes_it_on_for_a_time(later: timedelta, course: Course) -> None:
    assert after(abandoned(), later=later) is course


@pytest.mark.parametrize("told", [Story().cleared(), Story().cleared().next_reading("device").abandoned()])
def test_what_was_ever_cleared_does_not(told: Story) -> None:
    assert after(told) is Course.NEW
    assert after(told, abandoned()) is Course.NEW


def test_what_was_started_may_still_run_until_a_stop_is_written_down() -> None:
    assert after(Story().started()) is Course.STARTED
    assert after(Story().started(), later=timedelta(days=9)) is Course.STARTED
    assert after(Story().started().stopped()) is Course.NEW


def test_the_latest_counts() -> None:
    assert after(abandoned(), abandoned()) is Course.GOES_ON
    assert after(Story().found()) is Course.NEW
