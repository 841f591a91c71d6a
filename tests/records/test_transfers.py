"""A patient taken from another unit: who answers for it, where it is, and until when two have read it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.records.beds import place_then, places_ever
from app.records.change_events import BedChanged, PatientTaken
from app.records.course import Bar, find_bar, is_of_taken
from app.records.due import DueThing, due_things
from app.records.ending_events import InfusionEnded
from app.records.events import END_OF_THERAPY, DeviceStopped, StartedWithoutCheck
from app.records.kept import FIRST, SECOND
from app.records.kinds import HANDOFF, HANDOFF_STANDING, RE_CHECK, TRANSFER, Kind, Opens
from app.records.ranking import Standing
from app.records.visibility import standing_of_infusion
from tests.records.test_due import THE_POLICY
from tests.records.test_infusion import Course, told
from tests.story.events import NADIA, RUTH, TOMAS

FROM, TO = ("ward-4-east", "12"), ("recovery", "3")
TAKEN = PatientTaken(unit="recovery", bed="3", before_unit="ward-4-east", before="12")
MOMENT = timedelta(seconds=1)


def running() -> Course:
    return told().is_started("1", by=NADIA)


def taken() -> Course:
    course = running()
    course.tell(TAKEN, by=RUTH)
    return course


def test_by_the_tap_whoever_took_the_patient_answers_for_it() -> None:
    before, now = running().infusion(), taken().infusion()

    assert (before.responsible, now.responsible) == (NADIA, RUTH)
    assert (now.is_running, now.in_force) == (True, before.in_force)
    assert now.transfer is not None
    assert (now.transfer.by, now.transfer.sender) == (RUTH, NADIA)
    assert now.transfer.is_from("ward-4-east")
    assert not now.transfer.is_from("recovery")


def test_its_two_are_who_sent_and_who_took_in_a_transfer_and_a_handoff_of_what_stands_alone() -> None:
    kinds = (TRANSFER, HANDOFF_STANDING, HANDOFF, RE_CHECK)

    assert [is_of_taken(kind, taken().infusion()) for kind in kinds] == [True, True, False, False]
    assert not is_of_taken(TRANSFER, running().infusion())


@pytest.mark.parametrize("kind", [TRANSFER, HANDOFF, RE_CHECK], ids=lambda kind: kind.name)
def test_it_goes_on_until_two_have_checked_it(kind: Kind) -> None:
    assert taken().is_done("2", kind).infusion().transfer is None


def test_a_check_that_was_started_and_the_end_settle_it_and_a_stop_does_not() -> None:
    stopped = taken().stops()
    assert stopped.infusion().transfer is not None
    assert stopped.is_started("2", by=TOMAS).infusion().transfer is None
    assert taken().tell(StartedWithoutCheck(reason="", started_at="")).infusion().transfer is not None
    assert taken().tell(InfusionEnded(check_kind="end-of-pca")).infusion().transfer is None


def test_the_check_is_due_and_then_overdue() -> None:
    course = taken()
    until = course.now + THE_POLICY.transfer_check_due
    for late, overdue in ((timedelta(0), False), (MOMENT, True)):
        (due,) = due_things(course.infusion(), THE_POLICY, until + late)
        assert (due.what, due.at, due.overdue) == (DueThing.TRANSFER, until, overdue)

    ended = course.tell(DeviceStopped(stopped_at="", why=END_OF_THERAPY, totals="")).infusion()
    assert due_things(ended, THE_POLICY, until + MOMENT) == ()


def test_a_list_says_check_due_before_a_low_syringe_and_after_what_is_overdue() -> None:
    infusion = taken().infusion()

    assert standing_of_infusion(infusion, syringe_low=True) is Standing.CHECK_DUE
    assert standing_of_infusion(infusion, overdue=True) is Standing.OVERDUE


def test_its_check_is_opened_on_what_was_taken_alone() -> None:
    def bar(course: Course) -> Bar | None:
        return find_bar(TRANSFER, course.infusion(), passes_on=timedelta(hours=12), now=course.now)

    assert (bar(running()), bar(taken())) == (Bar.NOT_TAKEN, None)
    assert bar(taken().is_done("2", TRANSFER)) is Bar.NOT_TAKEN
    assert bar(taken().stops()) is Bar.NOT_RUNNING


def test_it_is_read_as_a_handoff_is_on_a_device_that_runs() -> None:
    assert TRANSFER.opens is Opens.TAKEN
    assert TRANSFER.is_running
    assert [TRANSFER.reads_of(each) for each in (FIRST, SECOND)] == [
        HANDOFF.reads_of(each) for each in (FIRST, SECOND)
    ]
    assert TRANSFER.responsible is None


def test_where_it_was_then_is_told_by_its_moves_from_unit_to_unit() -> None:
    (entry,) = running().tell(TAKEN, by=RUTH).entries[-1:]
    moved = BedChanged(unit="recovery", bed="5", before="3")
    course = [replace(entry, position=3), replace(entry, position=7, event=moved)]
    now = ("recovery", "5")

    assert [place_then(now, course, each) for each in (3, 7, 8)] == [FROM, TO, now]
    assert places_ever(now, course) == {FROM, TO, now}
    assert places_ever(now, []) == {now}
