"""What a stop of the device does to a check in each phase, and what is left when it was another bed."""

from dataclasses import replace

import pytest

from app.records.kept import FIRST, SECOND
from app.records.kinds import RE_CHECK
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, DONE, VERIFIED
from app.records.stop_notes import NOT_FOR_THE_PATIENT
from tests.factories.findings import CAUTION
from tests.story.events import Story

# Nothing said, and nothing known, counts as said of the patient.
FOR_THE_PATIENT = (
    "",
    "unsure",
    "sedation-or-breathing",
    "reversal-agent",
    "wrong-patient",
    "wrong-setting-or-drug",
)


def observed() -> Story:
    """Everything of the first group stands, the baseline too."""
    return Story().found(CAUTION).acknowledged(CAUTION).steps_confirmed(1)


def looked() -> Story:
    return Story().cleared().looked()


def has_its_baseline(state: CheckState) -> bool:
    assert state.plan is not None
    (step,) = (each for each in state.plan.steps if each.entry == BASELINE)
    return state.baseline is not None and all(state.is_confirmed(step, part) for part in (DONE, VERIFIED))


@pytest.mark.parametrize("why", FOR_THE_PATIENT)
def test_a_stop_for_the_patient_undoes_the_baseline_and_no_other_step(why: str) -> None:
    before, then = observed().state(), observed().stopped(why=why).state()

    assert has_its_baseline(before)
    assert (then.baseline, then.phase, then.stopped) == (None, Phase.STEPS, True)
    assert {each.step for each in before.confirmations} - {each.step for each in then.confirmations} == {
        BASELINE
    }
    # It was observed all the same, and stands on the record.
    assert then.baselines == before.baselines
    assert observed().stopped(why=why).observed(below=True).state().stopped
    assert not observed().stopped(why=why).observed().state().stopped


@pytest.mark.parametrize("why", sorted(NOT_FOR_THE_PATIENT))
@pytest.mark.parametrize("told", [observed, looked], ids=["steps", "cleared"])
def test_a_stop_for_anything_else_undoes_nothing(told: type[Story], why: str) -> None:
    before, then = told().state(), told().stopped(why=why).state()

    assert has_its_baseline(then)
    assert (then.phase, then.stopped, then.signatures) == (before.phase, False, before.signatures)


def test_while_they_read_the_round_goes_on_and_a_baseline_of_before_is_undone() -> None:
    told = observed().next_reading("order").handed_in(FIRST).stopped().state()

    assert told.current is not None
    assert (told.phase, set(told.current.handed_in)) == (Phase.READING, {FIRST})
    assert not has_its_baseline(told)


@pytest.mark.parametrize("why", [*FOR_THE_PATIENT, *NOT_FOR_THE_PATIENT])
def test_while_they_read_nobody_can_tell_for_what_it_was_stopped(why: str) -> None:
    assert Story().opened().joined().stopped(why=why).state().stopped


def test_what_was_signed_counts_no_longer_and_a_new_edition_follows_the_new_baseline() -> None:
    void = looked().stopped().state()

    assert (void.phase, void.frozen_digest, void.cleared_at) == (Phase.STEPS, "", None)
    assert (dict(void.signatures), void.last_looks, void.edition) == ({}, frozenset(), 1)
    assert not void.is_to_be_frozen

    again = looked().stopped().observed().confirmed(FIRST, BASELINE).confirmed(SECOND, BASELINE)
    assert again.state().is_to_be_frozen
    assert again.frozen(2).signed(edition=2).state().phase is Phase.CLEARED


def test_nothing_more_becomes_of_a_check_that_has_ended() -> None:
    for told in (looked().started(), observed().abandoned()):
        before, then = told.state(), told.stopped().state()
        assert (then.phase, then.baseline, then.signatures) == (
            before.phase,
            before.baseline,
            before.signatures,
        )


def test_what_was_written_at_the_wrong_bed_has_undone_nothing() -> None:
    told = observed().stopped().misplaced().state()
    assert (has_its_baseline(told), told.stopped) == (True, False)
    assert [each.misplaced for each in told.stop_notes] == [True]

    # One of two leaves the other.
    told = observed().stopped().stopped().misplaced().state()
    assert (has_its_baseline(told), told.stopped) == (False, True)
    # What was observed anew meanwhile is the baseline.
    told = observed().stopped().observed().misplaced().state()
    assert (told.baseline, has_its_baseline(told)) == (told.baselines[-1], False)


def test_a_clearance_that_was_void_does_not_come_back_when_it_was_another_bed() -> None:
    told = looked().stopped().misplaced().state()

    assert (told.phase, has_its_baseline(told), told.stopped) == (Phase.STEPS, False, False)


def test_without_steps_what_was_signed_counts_no_longer_and_is_frozen_anew() -> None:
    told = Story(kind=RE_CHECK).found().frozen().signed(FIRST).stopped().state()

    assert (told.phase, dict(told.signatures), told.is_to_be_frozen) == (Phase.SIGNING, {}, True)


def test_whoever_wrote_a_stop_or_placed_it_may_say_that_it_was_another_bed() -> None:
    (stop,) = Story().opened().stopped().state().stop_notes

    assert stop.is_corrected_by(stop.by)
    assert replace(stop, placed_by="ruth").is_corrected_by("ruth")
    assert not stop.is_corrected_by("somebody else")
    assert not replace(stop, misplaced=True).is_corrected_by(stop.by)
