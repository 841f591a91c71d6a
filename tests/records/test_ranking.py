"""The ranking: what stands before what in every list."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from app.records.events import END_OF_THERAPY, DeviceStopped
from app.records.infusion import Run
from app.records.kinds import RE_CHECK
from app.records.ranking import Standing, rank
from app.records.visibility import infusion_words, led_words, standing_of, standing_of_infusion
from app.records.ward_events import LinePaused, RunsAgainBeside
from tests.factories.findings import DEVICE_WRONG
from tests.story.events import BEGAN as NOW
from tests.story.events import Story

RUNS = Run(since=NOW, check="check-1")

# In the words of the design.
WANTED = (
    Standing.TWO_RUN,
    Standing.UNCHECKED,
    Standing.ACT_NOW,
    Standing.ASKED_FOR_HELP,
    Standing.STOPPED,
    Standing.PAUSED,
    Standing.LED,
    Standing.SECOND_WANTED,
    Standing.READY,
    Standing.LAPSED,
    Standing.OVERDUE,
    Standing.SYRINGE_LOW,
    Standing.IN_PROGRESS,
    Standing.RUNNING,
)


@pytest.mark.parametrize(("before", "after"), list(pairwise(WANTED)))
def test_what_is_urgent_comes_first_however_new_it_is(before: Standing, after: Standing) -> None:
    assert rank(before, NOW, "9") < rank(after, NOW - timedelta(days=1), "1")


def test_of_two_alike_the_one_that_waits_longer_comes_first_and_then_the_bed() -> None:
    earlier, later = NOW, NOW + timedelta(minutes=1)

    assert rank(Standing.READY, earlier, "9") < rank(Standing.READY, later, "1")
    assert rank(Standing.READY, earlier, "1") < rank(Standing.READY, earlier, "9")


def test_a_standing_has_a_word_of_its_own() -> None:
    assert len({each.value for each in Standing}) == len(Standing)


def test_what_a_list_says_of_an_infusion() -> None:
    started = Story().found().steps_confirmed().frozen().signed().looked().started()

    assert standing_of_infusion(started.infusion()) is Standing.RUNNING
    assert standing_of_infusion(started.infusion(), syringe_low=True) is Standing.SYRINGE_LOW
    assert standing_of_infusion(started.infusion(), overdue=True, syringe_low=True) is Standing.OVERDUE
    stopped = started.tell(DeviceStopped(stopped_at="", why="other", totals="")).infusion()
    assert standing_of_infusion(stopped, overdue=True, syringe_low=True) is Standing.STOPPED
    # Nobody starts it again, or it was stopped for good: what is left of it is to be accounted for.
    assert standing_of_infusion(stopped, left_off=True) is Standing.ACCOUNT_OPEN
    for_good = DeviceStopped(stopped_at="", why=END_OF_THERAPY, totals="")
    assert standing_of_infusion(started.tell(for_good).infusion()) is Standing.ACCOUNT_OPEN


def test_what_a_list_says_of_an_infusion_that_calls_for_more() -> None:
    started = Story().found().steps_confirmed().frozen().signed().looked().started()

    paused = started.tell(LinePaused(why="kink"))
    assert standing_of_infusion(paused.infusion()) is Standing.PAUSED
    assert standing_of(paused.state(), paused.infusion()) is Standing.PAUSED
    led = replace(paused.infusion(), led_to="set-up")
    assert standing_of_infusion(led) is Standing.LED
    beside = started.tell(RunsAgainBeside(beside="infusion-2")).infusion()
    assert beside.beside == {"infusion-2"}
    assert standing_of_infusion(beside, two_run=True) is Standing.TWO_RUN
    assert not started.stopped().infusion().beside
    (run,) = led.runs
    unchecked = replace(led, unchecked_since=run.since)
    assert standing_of_infusion(unchecked) is Standing.UNCHECKED
    assert standing_of_infusion(started.stopped().infusion()) is Standing.STOPPED
    assert led_words("") == ""
    assert led_words("set-up") == "led to a set-up"
    assert infusion_words(Standing.LED, "set-up") == "led to a set-up"
    # Why it stands weighs more than what comes first.
    assert infusion_words(Standing.HELD, "set-up") == Standing.HELD.value


def test_a_stop_about_a_patient_to_whom_it_runs_is_told_until_either_says_that_it_stands() -> None:
    told = Story(kind=RE_CHECK).found(DEVICE_WRONG)
    infusion, state = replace(told.infusion(), runs=(RUNS,)), told.state()
    assert standing_of(state, infusion) is Standing.ACT_NOW

    stands = replace(infusion, runs=(replace(RUNS, stopped_at=NOW),))
    assert standing_of(state, stands) is not Standing.ACT_NOW
    # The check's own entries may be read before those of the infusion.
    assert standing_of(told.stopped().state(), infusion) is not Standing.ACT_NOW
