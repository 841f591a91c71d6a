"""What lists say of what is due of what runs; to whoever reads there no more than its state."""

from datetime import timedelta

from app.records.due import Due, DueThing
from app.records.ranking import Standing
from app.records.state import Phase
from app.workflow import pausing
from app.workflow.listing import Running, unit_list
from tests.story.people import IMOGEN, NADIA, TOMAS, Somebody
from tests.story.ward import Ward


def line(ward: Ward, who: Somebody) -> Running:
    (running,) = unit_list(ward.site, ward.act(who)).running
    return running


def pauses(ward: Ward) -> None:
    infusion = ward.state().check.infusion
    paused = pausing.pause_line(ward.site, ward.act(NADIA), infusion, why="walk")
    assert isinstance(paused, pausing.Paused)


def test_a_line_that_is_paused_for_too_long_stands_in_its_own_place_and_what_is_due_is_told(
    one_ward: Ward,
) -> None:
    pauses(one_ward.at_stage(Phase.STARTED))
    until = one_ward.now + timedelta(minutes=30)

    for later, overdue in ((timedelta(0), False), (timedelta(minutes=31), True)):
        one_ward.wait(later)
        told = line(one_ward, IMOGEN)
        assert told.standing is Standing.PAUSED
        assert told.due == (Due(what=DueThing.LINE, at=until, overdue=overdue),)


def test_whoever_reads_there_is_told_its_state_alone(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    pauses(one_ward)
    one_ward.re_checks()
    assert [line(one_ward, who).due for who in (NADIA, TOMAS)] == [(), ()]
    assert line(one_ward, IMOGEN).due

    one_ward.both_read().compares()
    assert all(line(one_ward, who).due for who in (NADIA, TOMAS))
