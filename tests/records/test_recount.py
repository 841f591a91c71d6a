"""What does not add up: counted once more by both together, and then signed as open."""

import pytest

from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.followup import OF_PATIENT, worst_first
from app.records.independence import Grade, of_round
from app.records.kinds import RE_CHECK
from app.records.ranking import Standing
from app.records.state import Phase
from app.records.visibility import standing_of
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, NOT_WITNESSED, SHORT
from tests.story.events import Story

TOTALS = (("totals", ()),)


def re_check() -> Story:
    return Story(kind=RE_CHECK)


def recounted(*found: object) -> Story:
    """It did not add up, and both have counted together."""
    told = re_check().found(SHORT).next_reading(scope=TOTALS).both_handed_in()
    return told.compared(*found)  # type: ignore[arg-type]  # findings


def test_what_does_not_add_up_is_counted_once_more_before_anything_is_signed() -> None:
    state = re_check().found(SHORT).state()

    assert (state.phase, state.recount_due, state.is_to_be_frozen) == (Phase.AGREED, True, False)
    assert not state.open_stops


def test_counted_together_it_is_not_blind() -> None:
    state = recounted(SHORT).state()
    first, second = (of_round(state, each, frozenset()) for each in state.rounds)

    assert (first.grade, second.grade) == (Grade.TWO_DEVICES, Grade.TOGETHER)
    assert [each.recount for each in state.rounds] == [False, True]


def test_once_and_never_again_and_both_sign_that_it_is_open() -> None:
    state = recounted(SHORT).state()

    assert (state.phase, state.recount_due, state.is_to_be_frozen) == (Phase.SIGNING, False, True)
    assert state.open_account == (SHORT,)
    assert recounted().state().open_account == ()


def test_a_recount_that_was_voided_is_made_again() -> None:
    told = re_check().found(SHORT).next_reading(scope=TOTALS).voided().both_handed_in().compared(SHORT)

    assert told.state().recount_due


@pytest.mark.parametrize("first", [DIFFER, DEVICE_WRONG])
def test_other_next_readings_are_no_recount(first: object) -> None:
    touched = () if first is DIFFER else ("device",)
    told = re_check().found(first, SHORT).read_again(SHORT, touched=touched)  # type: ignore[arg-type]  # a finding

    assert not any(each.recount for each in told.state().rounds)
    assert told.state().recount_due


def test_a_recount_counts_as_no_repetition() -> None:
    assert recounted(SHORT).state().rereadings == 0


def test_what_nobody_saw_is_not_counted_again() -> None:
    state = re_check().found(NOT_WITNESSED).state()

    assert (state.phase, state.recount_due) == (Phase.SIGNING, False)
    assert state.open_account == (NOT_WITNESSED,)


def test_cautions_are_answered_after_it() -> None:
    told = (
        re_check().found(SHORT, CAUTION).next_reading(scope=TOTALS).both_handed_in().compared(SHORT, CAUTION)
    )

    assert told.state().phase is Phase.AGREED
    assert told.acknowledged(CAUTION).state().phase is Phase.SIGNING


def test_what_is_about_the_patient_is_told_to_the_unit_while_it_runs() -> None:
    running = Story().cleared().looked().started().infusion()
    for found, standing in ((SHORT, Standing.ACT_NOW), (NOT_WITNESSED, Standing.IN_PROGRESS)):
        assert standing_of(re_check().found(found).state(), running) is standing

    stopped = Story().cleared().looked().started().stopped().infusion()
    assert standing_of(re_check().found(SHORT).state(), stopped) is not Standing.ACT_NOW
    # That it was stopped may be told of the check alone.
    assert standing_of(re_check().found(SHORT).stopped().state(), running) is not Standing.ACT_NOW
    # While readings differ whatever else is found may be what one alone read.
    assert standing_of(re_check().found(SHORT, DIFFER).state(), running) is Standing.IN_PROGRESS


def test_what_is_about_the_account_alone_comes_last_of_the_stops() -> None:
    assert SHORT.about == OF_PATIENT
    assert worst_first([NOT_WITNESSED, CAUTION, SHORT]) == (SHORT, NOT_WITNESSED, CAUTION)


def test_an_account_is_left_open_since_the_first_time_until_somebody_closes_it() -> None:
    told = Story().cleared().looked().started().tell(AccountLeftOpen(round=2))
    since = told.now
    told.tell(AccountLeftOpen(round=2))
    left = told.infusion().left_open

    assert left is not None
    assert (left.at, left.check) == (since, told.entries[-1].check)
    assert (
        told.tell(AccountClosed(left_open=str(left.position), reason="counted")).infusion().left_open is None
    )
