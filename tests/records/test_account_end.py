"""The account at its end: the last syringe comes off, what was left of it goes, and nothing is in hand."""

from datetime import timedelta
from typing import Any

import pytest

from app.records import events
from app.records.ending_events import InfusionEnded
from app.records.taken_back import IN_SYRINGE, RETURNED, WASTED
from app.records.ward_events import DrugTakenBack, LinePaused
from tests.factories.answers import answers, changed
from tests.judging.test_account import told
from tests.records.test_account import BEGUN, Course

LEFT = {"total_amount": "2 mg", "presses": "11", "doses": "10", "left": "17.7 mL"}
REMOVED = {
    "kind": "removed",
    "totals": {"amount": "2 mg", "presses": 11, "doses": 10},
    "left": "17.7 mL",
}


def stopped() -> Course:
    return Course().starts("a").tell(events.DeviceStopped(stopped_at="", why="end-of-therapy", totals=""))


def read_at_the_end(course: Course, check: str = "b", **totals: str | None) -> Course:
    at = (course.now - timedelta(minutes=1)).isoformat()
    read = changed(answers(), totals={"read_at": at, **LEFT, **totals})
    return course.reads(check, read, volume="")


def gone(way: str = WASTED, volume: str = "17.7 mL", **given: Any) -> DrugTakenBack:  # noqa: ANN401  # any field
    told = {
        "slot": 1,
        "round": 0,
        "way": way,
        "syringe": "1",
        "held_in": IN_SYRINGE,
        "volume": volume,
        "exact": volume,
        "lot": "LOT-7",
        "stated_at": "",
        "witness": "ruth",
        "received": way == RETURNED,
        "first": volume,
        "not_witnessed": "",
    }
    return DrugTakenBack(**{**told, **given})


def data(course: Course) -> list[dict[str, Any]]:
    return [{name: each for name, each in entry.items() if name != "at"} for entry in told(course.account())]


def test_the_syringe_comes_off_with_what_the_second_read_then_it_goes_and_nothing_is_in_hand() -> None:
    course = read_at_the_end(stopped()).tell(gone(), "b").tell(InfusionEnded(check_kind="end-of-pca"), "b")

    assert course.kinds() == [*BEGUN, "paused", "removed", "wasted 1", "end"]
    assert data(course)[-3:] == [
        REMOVED,
        {"kind": "wasted", "syringe": "1", "volume": "17.7 mL", "witnessed": True},
        {"kind": "end"},
    ]
    assert course.account().is_closed
    assert course.account().lots == {"1": "LOT-7"}


def test_what_still_ran_stands_when_it_comes_off() -> None:
    course = read_at_the_end(Course().starts("a")).tell(gone(), "b").tell(LinePaused(why="kink"))

    assert course.kinds() == [*BEGUN, "removed", "wasted 1"]
    assert not course.account().is_closed


def test_without_a_remainder_it_comes_off_at_the_end() -> None:
    course = (
        read_at_the_end(stopped(), left="0 mL")
        .tell(gone(volume="0 mL"), "b")
        .tell(InfusionEnded(check_kind="end-of-pca"), "b")
    )

    assert course.kinds() == [*BEGUN, "paused", "removed", "end"]
    alone = read_at_the_end(stopped()).tell(InfusionEnded(check_kind="end-of-pca"), "b")
    assert alone.kinds() == [*BEGUN, "paused", "removed", "end"]
    assert data(alone)[-2] == REMOVED


def test_totals_that_nobody_could_read_are_left_out() -> None:
    nothing = dict.fromkeys(("total_amount", "total_volume", "presses", "doses", "left"), "none")
    course = read_at_the_end(stopped(), **nothing).tell(InfusionEnded(check_kind="end-of-pca"), "b")

    assert data(course)[-2:] == [{"kind": "removed"}, {"kind": "end"}]


@pytest.mark.parametrize(
    ("event", "seen"),
    [
        (gone(), {"kind": "wasted", "witnessed": True}),
        (gone(not_witnessed="nobody"), {"kind": "wasted", "witnessed": False}),
        (gone(RETURNED), {"kind": "returned", "received": True}),
        (gone(RETURNED, received=False), {"kind": "returned", "received": False}),
    ],
)
def test_who_saw_it_go_stands_with_it(event: DrugTakenBack, seen: dict[str, Any]) -> None:
    course = read_at_the_end(stopped()).tell(event, "b").tell(InfusionEnded(check_kind="end-of-pca"), "b")

    assert data(course)[-2] == {"syringe": "1", "volume": "17.7 mL", **seen}


def test_what_was_started_without_a_check_and_never_read_whole_has_no_account_to_close() -> None:
    course = Course().tell(events.StartedWithoutCheck(reason="no second", started_at=""))
    read_at_the_end(course).tell(gone(), "b").tell(InfusionEnded(check_kind="end-of-pca"), "b")

    assert course.kinds() == []


def test_what_is_spilt_of_the_syringe_that_is_on_leaves_it_on_and_each_time_counts() -> None:
    spilt = gone(volume="1 mL", held_in="spilt")
    course = Course().starts("a").tell(spilt).tell(spilt)

    assert course.kinds() == [*BEGUN, "wasted 1", "wasted 1"]
