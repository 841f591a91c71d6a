"""Who answers for an infusion now, and who covers a break meanwhile."""

from datetime import timedelta

from app.records.answering_events import BreakCovered, BreakOver
from app.records.due import DueThing, due_things
from app.records.kinds import HANDOFF, RE_CHECK
from tests.records.test_due import THE_POLICY
from tests.records.test_infusion import Course, told
from tests.story.events import NADIA, RUTH, TOMAS

HALF_AN_HOUR = timedelta(minutes=30)


def covered(course: Course) -> Course:
    """Nadia goes on a break, and Ruth covers."""
    until = (course.now + HALF_AN_HOUR).isoformat()
    course.tell(BreakCovered(covers=RUTH, until=until), by=NADIA)
    return course


def running() -> Course:
    return told().is_started("1", by=NADIA)


def test_whoever_started_it_last_answers_for_it_until_another_takes_over() -> None:
    # In these stories the first nurse is Tomas, and the second Nadia.
    assert told().infusion().responsible == ""
    assert running().infusion().responsible == NADIA
    assert told().is_started("1", by=TOMAS).is_done("2", HANDOFF).infusion().responsible == NADIA
    assert told().is_started("1", by=TOMAS).is_done("2", RE_CHECK).infusion().responsible == TOMAS
    handed_over = told().is_started("1", by=TOMAS).is_done("2", HANDOFF)
    assert handed_over.stops().is_started("3", by=RUTH).infusion().responsible == RUTH


def test_a_handoff_changes_nothing_of_what_is_in_force() -> None:
    assert running().is_done("2", HANDOFF).infusion().in_force == "1"
    assert running().is_done("2", RE_CHECK).infusion().in_force == "2"


def test_a_break_is_covered_until_its_time_and_shows_when_it_is_longer() -> None:
    course = covered(running())
    cover = course.infusion().cover
    assert cover is not None
    assert (cover.covers, cover.position) == (RUTH, course.entries[-1].position)
    # Whoever is on a break answers for it all the same.
    assert course.infusion().responsible == NADIA
    assert (cover.may_give(NADIA), cover.may_give(RUTH)) == (True, False)
    assert not cover.is_overdue(cover.until)
    assert cover.is_overdue(cover.until + timedelta(seconds=1))

    (due,) = due_things(course.infusion(), THE_POLICY, cover.until + timedelta(seconds=1))
    assert (due.what, due.at, due.overdue) == (DueThing.BREAK, cover.until, True)


def test_it_ends_when_she_is_back_and_with_whoever_takes_over() -> None:
    course = covered(running())
    begun = course.entries[-1].position
    assert course.tell(BreakOver(cover=str(begun + 1)), by=NADIA).infusion().cover is not None
    assert course.tell(BreakOver(cover=str(begun)), by=NADIA).infusion().cover is None
    assert course.tell(BreakOver(cover=str(begun)), by=NADIA).infusion().cover is None

    assert covered(running()).is_done("2", HANDOFF).infusion().cover is None
    assert covered(running()).is_done("2", RE_CHECK).infusion().cover is not None
    assert covered(running()).stops().is_started("3").infusion().cover is None
