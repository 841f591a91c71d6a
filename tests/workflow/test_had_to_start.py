"""What had to start when no check could be had in time: which infusion it is, once, and what gives way."""

from datetime import timedelta

import pytest

from app.records.events import StartedWithoutCheck
from app.records.infusion import InfusionState
from app.records.kept import Entry
from app.records.kinds import END_OF_PCA, SETTINGS_CHANGE, SYRINGE_CHANGE
from app.records.state import Phase
from app.site.loading import load_infusion
from app.storage import ExportSpan
from app.workflow import misplaced_starts, pausing, starting
from app.workflow.infusions import see_infusion
from app.workflow.listing import unit_list
from app.workflow.refusals import NotFound, NotYours
from tests.factories.answers import answers
from tests.story.people import IMOGEN, NADIA, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    return one_ward.at_stage(Phase.STARTED)


def infusions_at(ward: Ward, bed: str) -> list[str]:
    """The newest first."""
    with ward.site.store.read() as reader:
        return [each.id for each in reader.infusions_at(WARD, bed)]


def unchecked(ward: Ward) -> list[str]:
    return [each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked]


def told(ward: Ward, bed: str) -> list[Entry]:
    """Each time that somebody wrote that it had to start."""
    found = infusions_at(ward, bed)
    with ward.site.store.read() as reader:
        course = [each for infusion in found for each in reader.course(infusion)]
    return [each for each in course if isinstance(each.event, StartedWithoutCheck)]


def had_to_start(ward: Ward, who: Somebody = NADIA, *, bed: str) -> None:
    ward.starts_without_check(who, bed=bed)


# ---------------------------------------------------------------------------------------------------------
# Which it is


def test_what_was_stopped_and_had_to_start_again_is_the_same_and_its_account_goes_on(running: Ward) -> None:
    check = running.state().check
    running.wait(timedelta(hours=3)).stops(why="other").wait(timedelta(minutes=10))
    had_to_start(running, bed=check.bed)
    assert infusions_at(running, check.bed) == unchecked(running) == [check.infusion]

    running.wait(timedelta(minutes=20)).re_checks()
    # Nine doses of 0.2 mg at 0.2 mg/mL, of 27.6 mL that were left after priming.
    totals = {"total_amount": "1.8 mg", "presses": "9", "doses": "9", "left": "18.6 mL"}
    running.both_read(answers(totals=totals)).compares()
    assert running.state().findings == ()
    running.both_sign()
    assert unchecked(running) == []


def test_what_runs_by_the_log_is_unchecked_from_then_on_and_no_second_begins_beside_it(running: Ward) -> None:
    check = running.state().check
    had_to_start(running, bed=check.bed)

    assert infusions_at(running, check.bed) == unchecked(running) == [check.infusion]
    running.re_checks().both_read().compares().both_sign()
    assert unchecked(running) == []


@pytest.mark.parametrize("why", ["end-of-therapy", "other"])
def test_after_its_end_or_the_sites_time_another_begins(running: Ward, why: str) -> None:
    check = running.state().check
    running.stops(why=why).wait(timedelta(hours=25))
    had_to_start(running, bed=check.bed)

    (fresh,) = unchecked(running)
    assert infusions_at(running, check.bed) == [fresh, check.infusion]


# ---------------------------------------------------------------------------------------------------------
# Once


def test_sent_once_more_it_adds_nothing(one_ward: Ward) -> None:
    for _ in range(2):
        had_to_start(one_ward, bed="12")

    assert len(told(one_ward, "12")) == len(infusions_at(one_ward, "12")) == 1


def test_what_a_colleague_writes_or_what_happened_since_is_written_of_the_same(one_ward: Ward) -> None:
    had_to_start(one_ward, bed="12")
    had_to_start(one_ward, TOMAS, bed="12")
    had_to_start(one_ward, TOMAS, bed="12")
    assert [each.by for each in told(one_ward, "12")] == [NADIA.id, TOMAS.id]
    (infusion,) = unchecked(one_ward)
    # Paused, and started again.
    paused = pausing.pause_line(one_ward.site, one_ward.act(TOMAS), infusion, why="kink")
    assert paused == pausing.Paused()
    had_to_start(one_ward, TOMAS, bed="12")
    assert len(told(one_ward, "12")) == 3
    assert infusions_at(one_ward, "12") == [infusion]


# ---------------------------------------------------------------------------------------------------------
# The check that is open there


def test_a_check_of_what_runs_that_is_open_gives_way_and_its_signatures_check_nothing(running: Ward) -> None:
    """Both have read what was set before: it says nothing of what runs now."""
    check = running.state().check
    running.re_checks().both_read().compares()
    assert (running.phase, unchecked(running)) == (Phase.SIGNING, [])
    had_to_start(running, IMOGEN, bed=check.bed)

    assert (running.phase, unchecked(running)) == (Phase.ABANDONED, [check.infusion])


def test_so_does_a_set_up_and_what_it_was_of_is_what_runs(one_ward: Ward) -> None:
    check = one_ward.opens(NADIA, bed="12").joins().state().check
    had_to_start(one_ward, bed="12")

    assert one_ward.phase is Phase.ABANDONED
    assert infusions_at(one_ward, "12") == unchecked(one_ward) == [check.infusion]


def test_the_check_of_an_end_gives_way_to_nobody_who_follows(running: Ward) -> None:
    check = running.state().check
    running.stops(why="end-of-therapy")
    running.ends()
    assert running.state().kind is END_OF_PCA
    had_to_start(running, IMOGEN, bed=check.bed)

    assert running.phase is Phase.READING
    assert unchecked(running) != [check.infusion]


def test_pressed_twice_where_it_had_to_start_from_a_check_it_stands_once(running: Ward) -> None:
    check = running.state().check
    running.changes(SETTINGS_CHANGE)
    for _ in range(2):
        act = running.act(NADIA)
        said = starting.note_start_despite_check(running.site, act, running.check, reason="nobody free")
        assert said == starting.StartNoted()

    assert len(told(running, check.bed)) == 1
    assert running.phase is Phase.ABANDONED


# ---------------------------------------------------------------------------------------------------------
# At the wrong bed


def own(ward: Ward, who: Somebody = NADIA) -> list[int]:
    return [each.note for each in misplaced_starts.own_starts(ward.site, ward.act(who))]


def elsewhere(ward: Ward, note: int, who: Somebody = NADIA) -> object:
    return misplaced_starts.say_elsewhere(ward.site, ward.act(who), note)


def state_of(ward: Ward, infusion: str) -> InfusionState:
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def test_at_another_bed_nothing_runs_and_it_leaves_every_list(one_ward: Ward) -> None:
    had_to_start(one_ward, bed="12")
    (infusion,) = unchecked(one_ward)
    (note,) = own(one_ward)
    assert own(one_ward, TOMAS) == []
    assert elsewhere(one_ward, note, TOMAS) == NotYours()
    assert elsewhere(one_ward, note + 1) == elsewhere(one_ward, 0) == NotFound()
    for _ in range(2):
        assert elsewhere(one_ward, note) == misplaced_starts.SaidElsewhere()
    assert (unchecked(one_ward), own(one_ward)) == ([], [])
    listed = unit_list(one_ward.site, one_ward.act(RUTH))
    assert listed.running == ()
    assert see_infusion(one_ward.site, one_ward.act(RUTH), infusion) == NotFound()
    course = told(one_ward, "12")
    assert len(course) == 1
    # The next who lies there begins another, and whoever wrote it writes it at the right bed.
    one_ward.opens(IMOGEN, bed="12")
    assert one_ward.state().check.infusion != infusion
    had_to_start(one_ward, bed="13")
    assert len(unchecked(one_ward)) == 1


def test_written_again_at_that_bed_it_counts(one_ward: Ward) -> None:
    had_to_start(one_ward, bed="12")
    elsewhere(one_ward, own(one_ward)[0])
    had_to_start(one_ward, bed="12")
    assert len(unchecked(one_ward)) == 1


def test_what_ran_there_runs_as_before_and_the_check_that_gave_way_stays_ended(running: Ward) -> None:
    check = running.state().check
    before = state_of(running, check.infusion)
    running.re_checks()
    given_up = running.check
    had_to_start(running, bed=check.bed)
    (note,) = own(running)
    assert misplaced_starts.find_own_start(running.site, running.act(TOMAS), note) is None
    seen = misplaced_starts.find_own_start(running.site, running.act(NADIA), note)
    assert (seen and (seen.bed, seen.ended, seen.counts)) == (check.bed, True, True)

    assert elsewhere(running, note) == misplaced_starts.SaidElsewhere()
    assert state_of(running, check.infusion) == before
    assert (running.check, running.phase) == (given_up, Phase.ABANDONED)
    seen = misplaced_starts.find_own_start(running.site, running.act(NADIA), note)
    assert seen is not None
    assert not seen.counts
    running.re_checks().both_read().compares().both_sign()


def test_what_the_check_that_gave_way_had_half_changed_comes_first_again(running: Ward) -> None:
    """Given up it would have led to the same change; it led to none, for the infusion ran."""
    infusion = running.state().check.infusion
    running.changes(SYRINGE_CHANGE).both_read().compares()
    starting.note_start_despite_check(running.site, running.act(NADIA), running.check, reason="pain")
    assert state_of(running, infusion).led_to == ""
    elsewhere(running, own(running)[0])
    assert state_of(running, infusion).led_to == SYRINGE_CHANGE.name
    assert [each.infusion for each in unit_list(running.site, running.act(RUTH)).running] == [infusion]


def test_an_open_check_of_it_comes_to_its_end_first_and_one_that_was_done_keeps_it(running: Ward) -> None:
    check = running.state().check
    had_to_start(running, bed=check.bed)
    (note,) = own(running)
    running.re_checks()
    assert elsewhere(running, note) == misplaced_starts.CheckOpenThere(check=running.check)
    running.abandons()
    assert own(running) == [note]
    running.re_checks().both_read().compares().both_sign()
    assert elsewhere(running, note) == misplaced_starts.BuiltOn()
    assert own(running) == []
    assert state_of(running, check.infusion).last_run is not None


def test_it_is_no_export_and_no_hand_in_which_drug_was(running: Ward) -> None:
    had_to_start(running, bed="12")
    (infusion,) = unchecked(running)
    before = outside(running)
    elsewhere(running, own(running)[0])
    assert (before, outside(running)) == ([infusion], [])


def outside(ward: Ward) -> list[str]:
    """The infusions of which it is exported that they started without a check."""
    span = ExportSpan(from_=ward.now - timedelta(days=1), before=ward.now + timedelta(days=1))
    with ward.site.store.read() as reader:
        told = reader.outside_of_checks(span, (StartedWithoutCheck.kind,))
        return [entry.infusion for entry, _, _ in told]
