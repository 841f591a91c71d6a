"""Patients who are taken from another unit while nothing runs, or while a check is open where they were."""

from datetime import timedelta

import pytest

from app.records.kinds import HANDOFF_STANDING, SETTINGS_CHANGE
from app.records.ranking import Standing
from app.records.state import Phase
from app.workflow import emergencies, opening, pausing, transferring
from app.workflow.listing import unit_list
from tests.factories.answers import answers, changed
from tests.story.people import INES, NADIA, RALPH, RECOVERY, RUTH, WARD, Somebody
from tests.story.ward import Ward
from tests.workflow.test_transfer import TO, both_read, found_at, is_signed_by, listed, takes


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def test_who_is_away_comes_back_to_another_unit_and_is_set_anew_there(running: Ward) -> None:
    infusion = running.state().check.infusion
    emergencies.note_away(running.site, running.act(NADIA), infusion, what="theatre")
    assert takes(running) == transferring.Taken(infusion=infusion)
    assert takes(running).__class__ is transferring.AlreadyTaken
    assert listed(running, RALPH) == [(TO, Standing.AWAY)]
    assert (running.loaded().infusion.responsible, found_at(running, RECOVERY, TO)) == (INES.id, [infusion])

    emergencies.note_back(running.site, running.act(INES), infusion, opioids="no")
    opened = opening.open_on_infusion(running.site, running.act(INES), SETTINGS_CHANGE, infusion)
    assert isinstance(opened, opening.Opened)
    running.check = opened.check
    both_read(running.joins(RALPH), (INES, RALPH), answers(), answers())
    assert running.phase is Phase.STEPS


def test_of_what_stands_the_sender_and_the_receiver_read_what_stands(running: Ward) -> None:
    old, infusion = running.state().check.bed, running.state().check.infusion
    running.stops(why="line-or-site")
    assert takes(running) == transferring.Taken(infusion=infusion)
    assert takes(running, before=(WARD, old)).__class__ is transferring.AlreadyTaken
    (away,) = unit_list(running.site, running.act(RUTH)).away
    assert not away.runs

    # Whoever took the patient receives, as where it runs.
    def hands_over(who: Somebody) -> object:
        return opening.open_on_infusion(running.site, running.act(who), HANDOFF_STANDING, infusion)

    assert hands_over(INES) == opening.Receives()
    assert hands_over(RALPH) == opening.AnotherAnswers(name=NADIA.printed_name)
    opened = hands_over(NADIA)
    assert isinstance(opened, opening.Opened)
    running.check = opened.check
    is_signed_by(running.joins(INES), NADIA, INES)
    assert running.phase is Phase.DONE
    assert (running.loaded().infusion.transfer, running.loaded().infusion.responsible) == (None, INES.id)


def test_what_has_ended_or_was_stopped_too_long_ago_is_not_taken(running: Ward) -> None:
    running.stops(why="line-or-site").wait(timedelta(hours=13))
    assert takes(running) == transferring.NothingThere()

    running.at_stage(Phase.STARTED).stops(why="end-of-therapy")
    assert takes(running) == transferring.NothingThere()


def test_a_check_that_is_open_there_ends_once_whoever_takes_the_patient_was_told_of_it(
    running: Ward,
) -> None:
    """Its two have the patient no more; who is told of no check, or of another, ends none."""
    running.re_checks().both_read(changed(answers(), device={"demand_dose": "2 mg"})).compares()
    there = transferring.OpenThere(check=running.check)
    assert takes(running) == takes(running, gives_up="another") == there

    assert isinstance(takes(running, gives_up=there.check), transferring.Taken)
    assert (running.phase, running.state().abandoned) == (Phase.ABANDONED, "patient-moved")
    assert running.state().abandoned_by == INES.id
    # What its two had found goes with the patient.
    assert running.loaded().infusion.led_to == "settings-change"
    assert running.pausing_line(INES) == pausing.Paused()


def test_a_clearance_ends_with_the_taking_too(running: Ward) -> None:
    running.changes(SETTINGS_CHANGE).both_read().compares().confirms_all().both_sign()
    assert isinstance(takes(running, gives_up=running.check), transferring.Taken)
    assert (running.phase, running.state().lapse) == (Phase.ABANDONED, "patient-taken")
