"""A patient is taken once, to a free bed of the own unit: all else is refused."""

import pytest

from app.records.course import Bar
from app.records.state import Phase
from app.workflow import changing, opening, stopping, transferring
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotOnShift
from tests.story.people import INES, NADIA, QUILL, RALPH, RECOVERY, RUTH, TOMAS, WARD
from tests.story.ward import Ward
from tests.workflow.test_transfer import OTHER, TO, opens, takes


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def test_the_second_tap_does_no_harm(running: Ward) -> None:
    takes(running)
    already = transferring.AlreadyTaken(by=INES.printed_name, unit="Recovery room", bed=TO)
    with running.site.store.read() as reader:
        before = reader.head()

    assert takes(running) == takes(running, RALPH, bed=OTHER) == already
    with running.site.store.read() as reader:
        assert reader.head() == before


def test_it_comes_to_a_free_bed_of_the_own_unit_alone(running: Ward) -> None:
    running.has_beds("40")
    assert isinstance(takes(running, bed="no such bed"), NoSuchBed)
    assert takes(running, TOMAS, unit=WARD, bed="40") == transferring.SameUnit()
    assert takes(running, TOMAS) == NotOnShift()
    assert takes(running, before=("nowhere", "1")) == NoSuchUnit()
    assert isinstance(takes(running, before=(WARD, "no such bed")), transferring.NoSuchBedThere)
    assert takes(running, QUILL) == NotAllowed()
    assert running.loaded().infusion.responsible == NADIA.id


def test_an_occupied_bed_is_refused(running: Ward) -> None:
    first = running.check
    opened = opening.open_check(running.site, running.act(RALPH), unit=RECOVERY, bed=TO)
    assert isinstance(opened, opening.Opened)

    running.check = first
    assert takes(running) == changing.Occupied(bed=TO)


def test_where_by_the_log_two_run_neither_is_taken(running: Ward) -> None:
    bed = running.state().check.bed
    note = running.noting_a_stop(RUTH, why="end-of-therapy")
    assert isinstance(note, stopping.StopNoted)
    running.starts_without_check(bed=bed)
    running.saying_misplaced(RUTH, note.note)

    assert takes(running, before=(WARD, bed)) == transferring.SeveralRun()


def test_nothing_is_opened_of_what_nobody_took_nor_by_whoever_took_it(running: Ward) -> None:
    assert opens(running) == opening.Barred(bar=Bar.NOT_TAKEN)
    takes(running)
    assert opens(running, INES) == opening.Receives()
