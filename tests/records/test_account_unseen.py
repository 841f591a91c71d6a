"""The account of a syringe that came onto the device without a check: as both found it at the next one."""

from dataclasses import replace
from datetime import timedelta

from app.records import events
from app.records.canonical import canonical
from app.records.kept import KeptComparison
from tests.factories.answers import Changes, answers, changed
from tests.records.test_account import BEGUN, OTHER_LOT, Course, begun
from tests.records.test_account_end import gone
from tests.story.events import BEGAN

OLD = {"total_amount": "2 mg", "presses": "11", "doses": "10", "left": "17.7 mL"}
HURRY = events.StartedWithoutCheck(reason="pain", started_at="", instead_of="b")


def finds(course: Course, check: str, name: str, **otherwise: Changes) -> Course:
    """Both find another syringe on, in a check that is done."""
    at = (course.now - timedelta(minutes=1)).isoformat()
    course.reads(check, changed(answers(), totals={"read_at": at, **OLD}, **otherwise), volume="")
    course.read[check][-1] = unseen(course.read[check][-1], name)
    return course.tell(events.CheckDone(check_kind="re-check"), check)


def unseen(kept: KeptComparison, name: str) -> KeptComparison:
    return replace(kept, result=canonical({**kept.told, "unseen": name}))


def changing(course: Course) -> Course:
    """A change of its syringe is read, and given up for a start in a hurry."""
    at = (course.now - timedelta(minutes=1)).isoformat()
    course.reads("b", changed(answers(), totals={"read_at": at, **OLD}), volume="")
    return course.tell(events.Abandoned(reason="had-to-start", text=""), "b").tell(HURRY)


def test_what_was_put_on_in_a_change_that_was_given_up_is_on_since_the_start() -> None:
    course = Course().starts("a").tell(events.DeviceStopped(stopped_at="", why="", totals=""))
    changing(course)
    before = course.account()
    assert (before.on, before.begun, before.place) == ("1", course.entries[-1].at, 6)
    assert before.next_name == "2"
    assert before.off is not None
    assert before.off.data == {
        "kind": "removed",
        "totals": {"amount": "2 mg", "presses": 11, "doses": 10},
        "left": "17.7 mL",
    }
    finds(course, "c", "2", **OTHER_LOT)
    assert course.kinds() == [*BEGUN, "paused", "removed", "issued 2", "loaded 2", "started", "read"]
    account = course.account()
    assert (account.on, account.begun, account.off) == ("2", None, None)
    assert account.entries[6] == before.off
    # What was left of the one before goes, as of any that is off.
    course.tell(gone(syringe="1"))
    assert course.kinds()[-1] == "wasted 1"


def test_where_the_same_one_is_found_nothing_came_on() -> None:
    course = Course().starts("a").tell(events.DeviceStopped(stopped_at="", why="", totals=""))
    finds(course.tell(replace(HURRY, instead_of="")), "c", "")
    assert course.kinds() == [*BEGUN, "paused", "started", "read"]
    assert course.account().begun is None
    # Started once more and put on again, it keeps its name.
    changing(course)
    finds(course, "d", "2", **OTHER_LOT)
    changing(course)
    finds(course, "e", "1")
    assert (course.account().on, course.kinds().count("issued 1")) == ("1", 1)


def test_what_nobody_wrote_down_is_as_of_when_it_was_found() -> None:
    course = finds(Course().starts("a"), "b", "2", **OTHER_LOT)
    assert course.kinds() == [*BEGUN, "removed", "issued 2", "loaded 2", "started", "read"]
    found = course.account().entries[-5:]
    assert {each.at for each in found} == {BEGAN + timedelta(minutes=59)}
    assert dict(found[0].data) == {"kind": "removed"}


def test_on_a_device_that_stands_and_shows_nothing_it_is_as_of_its_check() -> None:
    course = Course().starts("a").tell(events.DeviceStopped(stopped_at="", why="", totals=""))
    read = {source: each for source, each in answers().items() if source != "totals"}
    course.reads("b", changed(read, **OTHER_LOT), volume="")
    course.read["b"] = [unseen(each, "2") for each in course.read["b"]]
    course.tell(events.Started(check_kind="settings-change"), "b")
    assert course.kinds() == [*BEGUN, "paused", "removed", "issued 2", "loaded 2", "settings", "started"]
    assert course.account().entries[6].at == course.entries[-1].at


def test_of_one_whose_label_nobody_read_whole_nothing_comes_on() -> None:
    course = finds(Course().starts("a"), "b", "2", label={"syringe_size": None})
    assert course.kinds() == [*BEGUN, "read"]


def test_after_one_that_was_replaced_before_any_start_the_one_on_begins_its_account() -> None:
    course = Course().reads("a", answers(), volume="").takes_back("a")
    course.tell(replace(HURRY, instead_of="a"))
    assert course.account().begun is not None
    finds(course, "c", "2", **OTHER_LOT)
    assert course.account().on == "2"
    assert [each for each in course.kinds() if each != "primed"] == [
        "issued 1",
        "wasted 1",
        "issued 2",
        "loaded 2",
        "settings",
        "started",
        "read",
    ]


def test_a_check_that_was_cleared_reads_anew_what_is_on() -> None:
    course = begun().starts("b")
    assert course.account().begun is None
    assert course.kinds() == BEGUN
    settled = begun().tell(events.Started(check_kind="settings-change"), "x")
    settled.reads("x", answers(), volume="")
    assert settled.account().begun is not None
