"""The device was stopped at a bed: written down once, it counts for whatever runs and is open there."""

import pytest

from app.records.course import Bar
from app.records.events import DeviceStopped
from app.records.kept import FIRST, SECOND
from app.records.kinds import SETTINGS_CHANGE
from app.records.state import Phase
from app.records.steps import BASELINE
from app.records.visibility import Sight
from app.site.loading import load_infusion
from app.storage import OfInfusions
from app.workflow import stopping
from app.workflow.looking import Seen, see_check
from app.workflow.opening import Barred
from app.workflow.refusals import NotAllowed, NotFound, NotNow, NotYours
from tests.story.people import ADELE, IMOGEN, NADIA, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward

SEDATED = stopping.Stop(stopped_at="12:50", why="sedation-or-breathing", totals="4 mg")


def stops_at(ward: Ward, bed: str, who: Somebody = RUTH, *, stop: stopping.Stop = SEDATED) -> int:
    said = stopping.note_stop_at(ward.site, ward.act(who), who.roles, unit=WARD, bed=bed, stop=stop)
    assert isinstance(said, stopping.StopNoted)
    return said.note


def was_another_bed(ward: Ward, note: int, who: Somebody = RUTH) -> object:
    return stopping.say_misplaced(ward.site, ward.act(who), note)


def bed_of(ward: Ward) -> str:
    return ward.state().check.bed


def runs(ward: Ward, infusion: str) -> bool:
    """What the entries say, and what the list asks of the database: the two must be one."""
    with ward.site.store.read() as reader:
        said = load_infusion(reader, infusion).is_running
        listed = {each.id for each in reader.infusions_that(OfInfusions.RUNS, WARD)}
    assert (infusion in listed) is said
    return said


def observes_anew(ward: Ward) -> None:
    ward.observes().verifies(ward.holder(SECOND), BASELINE)


# ---------------------------------------------------------------------------------------------------------
# By phase


@pytest.mark.parametrize("phase", [Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN])
def test_until_it_was_compared_the_round_goes_on(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)
    stops_at(one_ward, bed_of(one_ward))

    assert one_ward.phase is phase
    assert [(each.by, each.why) for each in one_ward.state().stop_notes] == [(RUTH.id, SEDATED.why)]


def test_agreed_or_among_the_steps_the_baseline_is_observed_anew(ward: Ward) -> None:
    ward.at_stage(Phase.AGREED)
    stops_at(ward, bed_of(ward))
    assert ward.phase is Phase.AGREED

    ward.at_stage(Phase.STEPS).confirms_group()
    stood = len(ward.state().confirmations)
    stops_at(ward, bed_of(ward))
    state = ward.state()
    assert (ward.phase, state.group, state.baseline) == (Phase.STEPS, 1, None)
    assert len(state.confirmations) == stood - 2

    # Without it the record is not frozen, whatever else is confirmed; with it the check goes on.
    observes_anew(ward)
    assert ward.confirms_all().phase is Phase.SIGNING


@pytest.mark.parametrize("phase", [Phase.SIGNING, Phase.CLEARED, Phase.LAPSED])
def test_what_was_signed_counts_no_longer_and_a_new_edition_is_signed(ward: Ward, phase: Phase) -> None:
    ward.at_stage(phase)
    stops_at(ward, bed_of(ward))
    assert ward.phase is Phase.STEPS
    assert ward.state().signatures == {}

    observes_anew(ward)
    assert (ward.phase, ward.state().edition) == (Phase.SIGNING, 2)
    assert ward.both_sign().phase is Phase.CLEARED
    assert ward.both_look().starts().phase is Phase.STARTED


def test_a_started_infusion_is_stopped_and_a_new_start_is_a_check_of_the_same(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED)
    infusion, bed = ward.state().check.infusion, bed_of(ward)
    stops_at(ward, bed)

    assert (ward.phase, runs(ward, infusion)) == (Phase.STARTED, False)
    assert ward.opens(bed=bed).state().check.infusion == infusion


# ---------------------------------------------------------------------------------------------------------
# Everything at the bed


def test_one_note_counts_for_what_runs_and_for_the_check_that_is_open(ward: Ward) -> None:
    running = ward.at_stage(Phase.STARTED).state().check
    # Nobody has written down a stop, so that a set-up at the same bed begins another infusion.
    ward.opens(bed=running.bed).joins().both_read().compares()
    fresh = ward.state().check
    assert fresh.infusion != running.infusion

    note = stops_at(ward, running.bed)

    assert not runs(ward, running.infusion)
    for check in (running.id, fresh.id):
        assert [(each.note, each.totals) for each in ward.state(check).stop_notes] == [(note, "4 mg")]
    assert ward.state().stopped
    # The check that is open is told, whoever's page it was written from.
    ward.check = running.id
    ward.stops(RUTH)
    assert [len(ward.state(check).stop_notes) for check in (running.id, fresh.id)] == [2, 2]
    # A bed beside it is another bed.
    beside = ward.opens().state()
    assert beside.stop_notes == ()

    assert was_another_bed(ward, note) == stopping.SaidMisplaced()
    assert [
        [each.misplaced for each in ward.state(check).stop_notes] for check in (running.id, fresh.id)
    ] == [
        [True, False],
        [True, False],
    ]


@pytest.mark.parametrize("typed", ["4 b", " Bed 4B", "bed 4b ", "4B"])
def test_a_bed_is_known_however_it_is_written(one_ward: Ward, typed: str) -> None:
    one_ward.has_beds("4B", "7A", "14B").opens(bed="4B")
    stops_at(one_ward, typed)
    assert [each.by for each in one_ward.state().stop_notes] == [RUTH.id]

    # What runs without a check is known too, and one more figure is another bed.
    one_ward.starts_without_check(bed="7 a")
    before = len(one_ward.state().stop_notes)
    stops_at(one_ward, "7A")
    stops_at(one_ward, "14B")
    assert len(one_ward.state().stop_notes) == before
    with one_ward.site.store.read() as reader:
        assert [each.event for each in reader.stops_nowhere()] == [
            DeviceStopped(stopped_at="12:50", why=SEDATED.why, totals="4 mg", unit=WARD, bed="14B")
        ]


def test_at_a_bed_where_nothing_is_known_it_is_saved_all_the_same(one_ward: Ward) -> None:
    note = stops_at(one_ward, " no such bed ")
    unnamed = stopping.note_stop_at(
        one_ward.site, one_ward.act(RUTH), RUTH.roles, unit="no-unit", bed="", stop=stopping.Stop()
    )

    assert isinstance(unnamed, stopping.StopNoted)
    with one_ward.site.store.read() as reader:
        kept = [each.event for each in reader.log_entries(after=note - 1, limit=2)]
    assert kept == [
        DeviceStopped(stopped_at="12:50", why=SEDATED.why, totals="4 mg", unit=WARD, bed="no such bed"),
        DeviceStopped(stopped_at="", why="", totals="", unit=WARD, bed=""),
    ]


def test_who_works_on_no_unit_writes_none(one_ward: Ward) -> None:
    said = stopping.note_stop_at(
        one_ward.site, one_ward.act(ADELE), ADELE.roles, unit=WARD, bed="1", stop=stopping.Stop()
    )
    assert said == NotAllowed()


# ---------------------------------------------------------------------------------------------------------
# Written at the wrong bed


def test_its_author_alone_says_that_it_was_another_bed(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    infusion = one_ward.state().check.infusion
    note = stops_at(one_ward, bed_of(one_ward))

    assert was_another_bed(one_ward, note, NADIA) == NotYours()
    assert was_another_bed(one_ward, note - 1) == NotFound()
    assert was_another_bed(one_ward, 0) == NotFound()
    assert not runs(one_ward, infusion)

    for _ in range(2):
        assert was_another_bed(one_ward, note) == stopping.SaidMisplaced()
    assert runs(one_ward, infusion)
    with one_ward.site.store.read() as reader:
        said = [each.event.kind for each in reader.course(infusion)]
    assert said.count("stop-misplaced") == 1


def test_what_it_undid_stands_again_and_the_record_is_frozen_if_that_was_all(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group()
    note = stops_at(ward, bed_of(ward))
    assert ward.state().group == FIRST
    was_another_bed(ward, note)
    assert ward.state().group == SECOND
    assert ward.confirms_all().phase is Phase.SIGNING


def test_a_clearance_that_it_voided_does_not_come_back(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    was_another_bed(ward, stops_at(ward, bed_of(ward)))

    assert ward.phase is Phase.STEPS
    assert ward.looking(NADIA, same=True) == NotNow(phase=Phase.STEPS)
    observes_anew(ward)
    assert ward.both_sign().phase is Phase.CLEARED


def test_a_re_check_goes_on_when_the_stop_was_at_another_bed(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).re_checks().both_read().compares()
    assert (ward.phase, ward.state().edition) == (Phase.SIGNING, 1)
    note = stops_at(ward, bed_of(ward))
    assert ward.phase is Phase.SIGNING

    was_another_bed(ward, note)
    assert ward.state().edition == 2
    assert ward.both_sign().phase is Phase.DONE


# ---------------------------------------------------------------------------------------------------------
# Written as the end of PCA


def test_its_author_alone_says_that_pca_did_not_end_with_it_and_it_stays_stopped(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    infusion, bed = one_ward.state().check.infusion, bed_of(one_ward)
    note = stops_at(one_ward, bed, stop=stopping.Stop(why="end-of-therapy"))
    assert one_ward.opening_on(NADIA, SETTINGS_CHANGE) == Barred(bar=Bar.NOT_RUNNING)

    def is_not_over(who: Somebody, number: int = note) -> object:
        return stopping.say_not_over(one_ward.site, one_ward.act(who), number)

    def may(who: Somebody, number: int = note) -> bool:
        return stopping.may_be_not_over(one_ward.site, one_ward.act(who), number)

    assert (is_not_over(NADIA), may(NADIA)) == (NotYours(), False)
    assert (is_not_over(RUTH, note - 1), may(RUTH, note - 1)) == (NotFound(), False)
    assert may(RUTH)
    for _ in range(2):
        assert is_not_over(RUTH) == stopping.SaidNotOver()
    assert not may(RUTH)
    with one_ward.site.store.read() as reader:
        state = load_infusion(reader, infusion)
        told = [each.event.kind for each in reader.course(infusion)]
    assert (state.is_stopped, told.count("end-withdrawn")) == (True, 1)
    # What was stopped is set anew and goes on, with the same account.
    one_ward.changes(SETTINGS_CHANGE)
    assert one_ward.state().check.infusion == infusion
    # Any other stop was never said to be the end.
    assert not may(RUTH, stops_at(one_ward, bed))


# ---------------------------------------------------------------------------------------------------------
# Who sees what


def test_whoever_has_not_handed_in_sees_that_it_was_stopped_when_and_by_whom(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING)
    stops_at(one_ward, bed_of(one_ward), NADIA)
    written_at = one_ward.now

    for who in (NADIA, TOMAS, RUTH):
        seen = see_check(one_ward.site, one_ward.act(who), one_ward.check)
        assert isinstance(seen, Seen)
        (note,) = seen.loaded.state.stop_notes
        assert (seen.progress, note.by, note.at) == ("the device was stopped", NADIA.id, written_at)
        assert (note.stopped_at, note.why, note.totals) == ("", "", "")


def test_what_one_wrote_does_not_reach_the_other_through_what_ran_at_the_bed_before(one_ward: Ward) -> None:
    before = one_ward.at_stage(Phase.STARTED).state().check
    one_ward.opens(bed=before.bed).joins()
    stops_at(one_ward, before.bed, NADIA)

    def sees(who: Somebody) -> Sight:
        seen = see_check(one_ward.site, one_ward.act(who), before.id)
        assert isinstance(seen, Seen)
        return seen.sight

    assert [sees(who) for who in (NADIA, TOMAS, RUTH)] == [Sight.PROGRESS, Sight.PROGRESS, Sight.EVERYTHING]
    one_ward.both_read().compares()
    assert sees(TOMAS) is Sight.EVERYTHING


def test_nothing_is_signed_looked_at_or_started_of_what_a_stop_has_voided(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING).stops(IMOGEN)
    assert ward.signing(NADIA) == NotNow(phase=Phase.STEPS)

    ward.at_stage(Phase.CLEARED).both_look().stops(IMOGEN)
    assert ward.starting(NADIA) == NotNow(phase=Phase.STEPS)
