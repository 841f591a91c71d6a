"""What is due of an infusion, and whether it is overdue."""

import json
from datetime import timedelta

import pytest

from app.config import root
from app.records.change_events import DoseLowered
from app.records.due import Due, DueThing, due_things
from app.records.emergency_events import DeviceDied
from app.records.events import END_OF_THERAPY, CheckDone, DeviceStopped, StartedWithoutCheck
from app.records.policy import policy_from
from app.records.ward_events import LinePaused, LineResumed
from app.words.due import DUE
from tests.story.events import Story

THE_POLICY = policy_from(json.loads((root() / "seed_data" / "policy.json").read_text(encoding="utf-8")))
MOMENT = timedelta(seconds=1)


def without_check() -> Story:
    return Story().tell(StartedWithoutCheck(reason="nobody was free", started_at=""))


def running() -> Story:
    return Story().found().steps_confirmed().frozen().signed().looked().started()


def due_of(story: Story, *, after: timedelta = timedelta(0)) -> tuple[Due, ...]:
    return due_things(story.infusion(), THE_POLICY, story.now + after)


def test_of_what_two_nurses_checked_nothing_is_due() -> None:
    assert due_of(running(), after=timedelta(days=9)) == ()


@pytest.mark.parametrize(
    ("late", "overdue"), [(-MOMENT, False), (timedelta(0), False), (MOMENT, True), (timedelta(days=9), True)]
)
def test_what_runs_without_a_check_is_checked_in_the_sites_time(late: timedelta, overdue: bool) -> None:  # noqa: FBT001  # expected
    story = without_check()
    until = story.now + THE_POLICY.check_due

    assert due_of(story, after=THE_POLICY.check_due + late) == (
        Due(what=DueThing.BLIND_CHECK, at=until, overdue=overdue),
    )


def test_a_line_that_is_paused_runs_on_in_the_time_of_one_nurse() -> None:
    paused = running().tell(LinePaused(why="walk"))
    (due,) = due_of(paused)
    assert (due.what, due.at) == (DueThing.LINE, paused.now + THE_POLICY.pause)

    resumed = paused.tell(LineResumed(pause=str(paused.entries[-1].position)))
    assert due_of(resumed) == ()


def test_of_a_dead_device_no_line_is_to_run_on() -> None:
    assert due_of(running().tell(LinePaused(why="walk")).tell(DeviceDied())) == ()


def test_what_was_lowered_for_safety_is_checked_in_the_sites_time() -> None:
    lowered = running().tell(DoseLowered(why="sedation"))
    again = lowered.tell(DoseLowered(why="sedation"))
    first = lowered.entries[-2].at

    (due,) = due_of(again)
    assert (due.what, due.at) == (DueThing.LOWERED, first + THE_POLICY.lowered_check_due)
    assert not due.overdue
    assert due_of(again, after=THE_POLICY.lowered_check_due)[0].overdue
    # Whichever check it is in which two read what is set now, and which puts it in force.
    assert due_of(again.tell(CheckDone(check_kind="transfer"))) == (due,)
    assert due_of(again.tell(CheckDone(check_kind="re-check"))) == ()


def test_what_is_due_first_stands_first() -> None:
    story = without_check().tell(LinePaused(why="walk"))
    whats = [each.what for each in due_of(story)]
    times = [each.at for each in due_of(story)]
    assert set(whats) == {DueThing.BLIND_CHECK, DueThing.LINE}
    assert times == sorted(times)


def test_once_it_has_ended_nothing_is_due() -> None:
    ended = without_check().tell(DeviceStopped(stopped_at="", why=END_OF_THERAPY, totals=""))
    assert due_of(ended, after=timedelta(days=9)) == ()


def test_each_has_its_words() -> None:
    assert set(DUE) == set(DueThing)


@pytest.mark.parametrize(("late", "overdue"), [(timedelta(0), False), (MOMENT, True)])
def test_the_patient_is_observed_by_when_the_protocol_says(late: timedelta, overdue: bool) -> None:  # noqa: FBT001  # expected
    story = running()

    assert due_things(story.infusion(), THE_POLICY, story.now + late, observe_by=story.now) == (
        Due(what=DueThing.OBSERVATION, at=story.now, overdue=overdue),
    )
    ended = story.stopped(why=END_OF_THERAPY)
    assert due_things(ended.infusion(), THE_POLICY, ended.now, observe_by=story.now) == ()
