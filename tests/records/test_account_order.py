"""In which order the account stands: by time, but for a clock that was put back and what cannot have been."""

from datetime import timedelta

from app.judging.account import balanced
from app.records import events
from app.records.bolus_events import StaffBolusGiven
from app.records.emergency_events import EvidenceKept
from app.records.kinds import SYRINGE_CHANGE
from app.records.ward_events import LinePaused
from tests.factories.answers import answers, changed
from tests.judging.test_account import told
from tests.records.test_account import BEGUN, BOLUS, IN_VOLUMES, Course

STOPPED = events.DeviceStopped(stopped_at="", why="", totals="")
FIRST = {"total_amount": "1.2 mg", "presses": "6", "doses": "6", "left": "21.7 mL"}
SECOND = {"total_amount": "1.4 mg", "presses": "7", "doses": "7", "left": "20.7 mL"}


def amounts(course: Course) -> list[str]:
    return [each["totals"]["amount"] for each in told(course.account()) if each["kind"] == "read"]


def stops(course: Course) -> set[str]:
    found = balanced(course.account().written(), {"display_step_amount": "0.1 mg"})["findings"]
    return {each["code"] for each in found if each["severity"] == "stop"}


def test_what_was_read_after_the_clock_was_put_back_stands_after_what_was_read_before() -> None:
    """Twenty minutes later, and by the clock forty minutes earlier."""
    course = Course().starts("a").done("b", **FIRST)
    course.put_back = timedelta(minutes=100)
    course.done("c", **SECOND)

    assert amounts(course) == ["1.2 mg", "1.4 mg"]
    assert stops(course) == {"time-disorder"}
    # What is stated of the time since still stands where it is said to have happened.
    at = course.now - timedelta(minutes=70)
    course.tell(events.DeviceStopped(stopped_at=at.isoformat(), why="", totals=""))
    assert course.kinds()[len(BEGUN) :] == ["read", "paused", "read"]


def test_what_came_in_before_its_turn_by_less_than_a_minute_is_by_the_same_clock() -> None:
    """Two who write at one moment, of whom one waited for the other."""
    course = Course().starts("a").tell(LinePaused(why="walk"))
    course.put_back = timedelta(hours=1, seconds=59)
    course.done("b", **FIRST)

    assert course.kinds()[len(BEGUN) :] == ["read", "paused"]


def test_what_was_read_before_the_clock_was_put_back_and_signed_after_it_is_read_once() -> None:
    course = Course().starts("a").done("b", **FIRST)
    course.put_back = timedelta(minutes=100)
    read_at = (course.now + timedelta(minutes=30)).isoformat()
    course.done("c", **SECOND, read_at=read_at).done("d", **SECOND)

    assert amounts(course) == ["1.2 mg", "1.4 mg", "1.4 mg"]


def test_a_bolus_stands_where_it_was_given_though_the_syringe_is_off_since() -> None:
    """Half an hour after the start; written down when it was stopped, or kept as evidence."""
    for over, kinds in (
        (STOPPED, ["bolus", "paused"]),
        (EvidenceKept(harm="2", seal="", holder="", place=""), ["bolus", "removed"]),
    ):
        for minutes, stands in ((30, kinds), (-30, kinds[1:])):
            course = Course().starts("1", changed(answers(), order=BOLUS))
            given_at = (course.entries[-1].at + timedelta(minutes=minutes)).isoformat()
            course.tell(over)
            course.tell(StaffBolusGiven(look="1", in_force="1", stated_at=given_at))
            assert course.kinds()[-len(stands) :] == stands


def test_a_bolus_is_of_the_syringe_that_was_on_when_it_was_given() -> None:
    """0.4 mg of 0.2 mg/mL, by a device in volumes; the next syringe has half of it in each mL."""
    in_volumes = answers(order=BOLUS, device=IN_VOLUMES)
    course = Course().starts("1", in_volumes)
    given_at = (course.entries[-1].at + timedelta(minutes=30)).isoformat()
    label, totals = {"lot": "LOT-8", "amount": "3 mg"}, {**FIRST, "read_at": course.now.isoformat()}
    weaker = changed(in_volumes, label=label, totals=totals)
    course.reads("2", weaker).tell(events.Started(check_kind=SYRINGE_CHANGE.name), "2")
    for check, stands, volume in (("1", given_at, "2 mL"), ("2", "", "4 mL")):
        course.tell(StaffBolusGiven(look="1", in_force=check, stated_at=stands))
        given = [each for each in told(course.account()) if each["kind"] == "bolus"]
        assert given[-1] == {"kind": "bolus", "amount": volume, "loading": False}
    assert course.kinds()[len(BEGUN)] == "bolus"


def test_a_stop_that_is_said_to_have_been_before_the_start_stopped_it_when_it_was_written() -> None:
    course = Course().starts("a")
    at = course.now - timedelta(hours=2)
    course.tell(events.DeviceStopped(stopped_at=at.isoformat(), why="", totals=""))

    assert course.kinds() == [*BEGUN, "paused"]
    assert course.account().entries[-1].at == course.entries[-1].at


def test_a_start_in_a_hurry_that_is_said_to_have_been_before_the_pause_is_of_when_it_was_written() -> None:
    course = Course().starts("a").tell(LinePaused(why="walk"))
    at = course.now - timedelta(minutes=90)
    course.tell(events.StartedWithoutCheck(reason="pain", started_at=at.isoformat()))

    assert course.kinds() == [*BEGUN, "paused", "started"]
