"""A key that is lost, a dead device, a patient who went without PCA: what each leaves, and what ends it."""

from datetime import timedelta

import pytest

from app.records.course import Bar
from app.records.emergencies import NOTHING_STANDS
from app.records.kinds import (
    DEVICE_CHANGE,
    HANDOFF,
    HANDOFF_STANDING,
    RE_CHECK,
    SETTINGS_CHANGE,
    SYRINGE_CHANGE,
)
from app.records.ranking import Standing
from app.records.state import Phase
from app.site.loading import account_of
from app.workflow import answering, emergencies, opening, pausing, stopping
from app.workflow.refusals import NotAllowed, NotYours
from tests.factories.answers import answers, changed
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS
from tests.story.ward import Ward
from tests.workflow.test_emergencies import ONE_TAP, does, infusion_of, kinds, lists, seen, state_of

# No totals show, and the scale of the barrel does.
NONE_SHOWN = {"total_amount": "none", "presses": "none", "doses": "none", "left": "27.6 mL"}


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    return one_ward.at_stage(Phase.STARTED)


def test_charge_nurse_and_pharmacy_are_told_until_the_lock_is_changed(running: Ward) -> None:
    ONE_TAP["key"](running, NADIA)
    assert state_of(running).is_running
    for who in (NADIA, RUTH, PETRA):
        assert [each.infusion for each in lists(running, who).told] == [infusion_of(running)], who
    for who in (NADIA, QUILL, ADELE):
        assert does(running, emergencies.change_lock, who) == NotAllowed()
    # Two have counted it with the next re-check; it stays told.
    running.re_checks().both_read().compares().both_sign()
    key = state_of(running).emergencies.key
    assert key is not None
    assert key.counted is not None
    assert len(lists(running).told) == 1
    assert isinstance(does(running, emergencies.change_lock, PETRA), emergencies.Noted)
    assert does(running, emergencies.change_lock, RUTH) == emergencies.NothingStands()
    assert lists(running).told == ()


def test_a_dead_device_is_a_pause_that_only_another_check_ends(running: Ward) -> None:
    ONE_TAP["dead"](running, NADIA)
    assert kinds(running)[-2:] == ["line-paused", "device-died"]
    (line,) = lists(running).running
    assert line.standing is Standing.DEAD
    assert running.resuming_line(NADIA, running.a_look()) == pausing.CheckComesFirst()
    before, bed = infusion_of(running), running.state().check.bed
    running.opens(IMOGEN, bed=bed)
    assert infusion_of(running) == before
    # Where the line was paused before, it is paused once.
    ONE_TAP["dead"](running, NADIA)
    assert kinds(running).count("line-paused") == 1


def test_of_a_dead_device_nothing_is_read_as_if_it_ran_and_it_is_handed_over_as_it_stands(
    running: Ward,
) -> None:
    ONE_TAP["dead"](running, NADIA)
    for kind in (HANDOFF, RE_CHECK, SETTINGS_CHANGE, SYRINGE_CHANGE):
        assert running.opening_on(NADIA, kind) == opening.Barred(bar=Bar.DEAD), kind.name
    (mine,) = answering.my_infusions(running.site, running.act(NADIA)).mine
    assert (mine.standing, mine.runs) == (Standing.DEAD, False)
    opened = running.opening_on(NADIA, HANDOFF_STANDING)
    assert isinstance(opened, opening.Opened)
    running.check = opened.check
    one = running.of_its_patient(changed(answers(), totals=NONE_SHOWN))
    running.joins(IMOGEN).reads(NADIA, one).reads(IMOGEN, one).compares()
    running.signs(NADIA).signs(IMOGEN)
    state = state_of(running)
    assert (state.responsible, state.emergencies.dead is not None) == (IMOGEN.id, True)
    # What ends it is another device.
    assert isinstance(running.opening_on(IMOGEN, DEVICE_CHANGE), opening.Opened)


def test_at_another_bed_no_device_was_dead_and_it_ran_all_the_while(running: Ward) -> None:
    noted = ONE_TAP["dead"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    for who, said in (
        (IMOGEN, NotYours()),
        (NADIA, stopping.SaidMisplaced(is_stop=False)),
        # Said once more it adds nothing.
        (NADIA, stopping.SaidMisplaced(is_stop=False)),
    ):
        assert running.saying_misplaced(who, noted.note) == said
    assert kinds(running)[-4:] == ["line-paused", "device-died", "stop-misplaced", "stop-misplaced"]
    state = state_of(running)
    assert (state.is_running, state.pause, state.emergencies) == (True, None, NOTHING_STANDS)
    assert [each.standing for each in lists(running).running] == [Standing.RUNNING]
    infusion = infusion_of(running)
    with running.site.store.read() as reader:
        assert account_of(reader, infusion).entries[-1].data == {"kind": "started"}
    assert seen(running).happened == ()


def test_at_another_bed_a_pause_of_a_colleague_stands_all_the_same(running: Ward) -> None:
    running.pausing_line(TOMAS)
    noted = ONE_TAP["dead"](running, NADIA)
    running.saying_misplaced(NADIA, noted.note)
    assert running.resuming_line(NADIA, running.a_look()) == pausing.Resumed()


def test_at_another_bed_no_key_was_lost_and_nobody_is_told(running: Ward) -> None:
    for what in ("key", "itch"):
        noted = ONE_TAP[what](running, NADIA)
        assert running.saying_misplaced(NADIA, noted.note) == stopping.SaidMisplaced(is_stop=False)
    assert lists(running).told == ()
    assert state_of(running).emergencies == NOTHING_STANDS


def test_who_is_away_comes_back_and_is_set_up_again_within_the_same_infusion(running: Ward) -> None:
    bed = running.state().check.bed
    assert does(running, emergencies.note_back, opioids="no") == emergencies.NothingStands()
    noted = ONE_TAP["away"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    does(running, emergencies.tell_afterwards, position=noted.position, told={"holder": "Imogen"})
    assert [each.standing for each in lists(running).running] == [Standing.AWAY]
    running.wait(timedelta(hours=13))
    assert isinstance(does(running, emergencies.note_back, opioids="?"), emergencies.Noted)
    absence = state_of(running).emergencies.absence
    assert absence is not None
    assert absence.back is not None
    before = infusion_of(running)
    running.opens(NADIA, bed=bed).joins().both_read().compares().confirms_all().both_sign().both_look()
    running.starts()
    assert (infusion_of(running), state_of(running).waits) == (before, False)
