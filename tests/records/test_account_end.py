"""The account at its end: the last syringe comes off, what was left of it goes, and nothing is in hand."""

from datetime import timedelta
from typing import Any

import pytest

from app.records import events
from app.records.ending_events import InfusionEnded
from app.records.taken_back import BROKEN, IN_SYRINGE, RETURNED, SPILT, WASTED
from app.records.ward_events import DrugTakenBack, LinePaused
from tests.factories.answers import answers, changed
from tests.judging.test_account import told
from tests.records.test_account import BEGUN, Course, begun

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


# ---------------------------------------------------------------------------------------------------------
# What was spilt, and when


def spilt(course: Course, hours_ago: int = 0, volume: str = "2 mL", **given: Any) -> DrugTakenBack:  # noqa: ANN401  # as above
    at = (course.now - timedelta(hours=hours_ago)).isoformat() if hours_ago else ""
    return gone(volume=volume, held_in=SPILT, stated_at=at, **given)


def test_what_was_spilt_before_a_reading_is_not_in_what_was_left_then() -> None:
    """It is written down afterwards, and stands where it is said to have happened."""
    course = Course().starts("a").done("b", **LEFT)
    course.tell(spilt(course, hours_ago=2))

    assert course.kinds() == [*BEGUN[:-1], "started", "wasted 1", "read"]


def test_what_was_spilt_before_its_syringe_came_off_is_not_in_what_was_left_when_it_did() -> None:
    course = read_at_the_end(stopped()).tell(gone(volume="17.7 mL"), "b")
    course.tell(spilt(course, hours_ago=2))

    assert course.kinds()[-3:] == ["wasted 1", "removed", "wasted 1"]


def test_nothing_is_spilt_of_a_syringe_before_it_came_in() -> None:
    course = Course().starts("a")
    course.tell(spilt(course, hours_ago=9))

    entries = course.account().entries
    assert [each.at for each in entries if each.data["kind"] in {"issued", WASTED}] == [entries[0].at] * 2


def test_what_was_spilt_before_anybody_had_checked_what_runs_counts_once_its_account_begins() -> None:
    course = begun()
    course.tell(spilt(course, hours_ago=1)).tell(spilt(course, hours_ago=20, volume="1 mL"))
    before = course.account()
    assert before.entries == ()

    account = course.done("b").account()
    # Its judges are told of it as it will stand there.
    assert before.spilt == tuple(each for each in account.entries if each.data["kind"] == WASTED)
    assert account.spilt == ()
    at = [(each.at, each.data["volume"]) for each in account.entries if each.data["kind"] == WASTED]
    # What is said to have happened before it was started happened when it was.
    starts = next(each.at for each in account.entries if each.data["kind"] == "started")
    assert at == [(starts, "1 mL"), (starts + timedelta(hours=2), "2 mL")]
    assert course.kinds()[-3:] == ["wasted 1", "wasted 1", "read"]


@pytest.mark.parametrize("held_in", [IN_SYRINGE, BROKEN])
def test_a_syringe_that_went_before_anybody_had_read_it_is_in_no_account(held_in: str) -> None:
    """The one that is read later is another one."""
    course = begun().tell(gone(held_in=held_in)).done("b")

    assert "wasted 1" not in course.kinds()
    assert course.account().gone == frozenset()


def test_what_is_spilt_of_what_was_never_started_is_in_no_account() -> None:
    course = Course()
    assert course.tell(spilt(course)).account().entries == ()


def test_an_account_begins_once() -> None:
    """Its syringe came off, and what was started without a check is read once more."""
    course = begun().done("b").tell(gone()).done("c")

    assert course.kinds().count("issued 1") == 1
