"""The life of a check: every arrow of the diagram is walked, and no other exists."""

from datetime import timedelta

import pytest

from app.records.life import FOLLOWS, WHEN, Action, may_be_done
from app.records.state import ENDED, Phase
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, NOTE, RULE
from tests.factories.story import CLEARANCE, Story

AN_HOUR = timedelta(hours=1)


def signing() -> Story:
    return Story().found().steps_confirmed().frozen()


def escalated() -> Story:
    return Story().found(RULE).asked_for_help().help_taken()


# From, to: a story that ends before the arrow, and the same story one event later.
ARROWS: dict[tuple[Phase, Phase], tuple[Story, Story]] = {
    (Phase.OPENED, Phase.READING): (Story().opened(), Story().opened().joined()),
    (Phase.OPENED, Phase.ABANDONED): (Story().opened(), Story().opened().abandoned()),
    (Phase.READING, Phase.BOTH_HANDED_IN): (
        Story().opened().joined().handed_in(2),
        Story().opened().joined().handed_in(2).handed_in(1),
    ),
    (Phase.READING, Phase.ABANDONED): (Story().opened().joined(), Story().opened().joined().abandoned()),
    (Phase.BOTH_HANDED_IN, Phase.DISPUTED): (
        Story().opened().joined().both_handed_in(),
        Story().found(DIFFER),
    ),
    (Phase.BOTH_HANDED_IN, Phase.ESCALATED): (
        Story().opened().joined().asked_for_help().both_handed_in(),
        Story().opened().joined().asked_for_help().both_handed_in().compared(DEVICE_WRONG),
    ),
    (Phase.BOTH_HANDED_IN, Phase.AGREED): (
        Story().opened().joined().both_handed_in(),
        Story().found(CAUTION),
    ),
    (Phase.BOTH_HANDED_IN, Phase.STEPS): (Story().opened().joined().both_handed_in(), Story().found(NOTE)),
    (Phase.BOTH_HANDED_IN, Phase.READING): (
        Story().opened().joined().both_handed_in(),
        Story().opened().joined().both_handed_in().voided(),
    ),
    (Phase.BOTH_HANDED_IN, Phase.ABANDONED): (
        Story().opened().joined().both_handed_in(),
        Story().opened().joined().both_handed_in().abandoned(),
    ),
    (Phase.DISPUTED, Phase.READING): (Story().found(DIFFER), Story().found(DIFFER).next_reading()),
    (Phase.DISPUTED, Phase.ESCALATED): (Story().found(DIFFER), Story().found(DIFFER).asked_for_help()),
    (Phase.DISPUTED, Phase.ABANDONED): (Story().found(DIFFER), Story().found(DIFFER).abandoned()),
    (Phase.ESCALATED, Phase.DISPUTED): (escalated(), escalated().help_settled("go-on")),
    (Phase.ESCALATED, Phase.AGREED): (
        Story().found(RULE, CAUTION).asked_for_help().help_taken(),
        Story().found(RULE, CAUTION).asked_for_help().help_taken().excepted(RULE),
    ),
    (Phase.ESCALATED, Phase.STEPS): (escalated(), escalated().excepted(RULE)),
    (Phase.ESCALATED, Phase.ABANDONED): (escalated(), escalated().abandoned()),
    (Phase.AGREED, Phase.STEPS): (
        Story().found(CAUTION).acknowledged(CAUTION, 1),
        Story().found(CAUTION).acknowledged(CAUTION, 1).acknowledged(CAUTION, 2),
    ),
    (Phase.AGREED, Phase.READING): (Story().found(CAUTION), Story().found(CAUTION).next_reading("order")),
    (Phase.AGREED, Phase.ABANDONED): (Story().found(CAUTION), Story().found(CAUTION).abandoned()),
    (Phase.STEPS, Phase.SIGNING): (Story().found().steps_confirmed(), signing()),
    (Phase.STEPS, Phase.READING): (Story().found(), Story().found().next_reading("device")),
    (Phase.STEPS, Phase.ABANDONED): (Story().found(), Story().found().abandoned()),
    (Phase.SIGNING, Phase.CLEARED): (signing().signed(1), signing().signed(1).signed(2)),
    (Phase.SIGNING, Phase.READING): (signing(), signing().next_reading("label")),
    (Phase.SIGNING, Phase.ABANDONED): (signing(), signing().abandoned()),
    (Phase.CLEARED, Phase.STARTED): (Story().cleared().looked(), Story().cleared().looked().started()),
    (Phase.CLEARED, Phase.LAPSED): (
        Story().cleared().looked(1, same=False),
        Story().cleared().looked(1, same=False).lapsed(),
    ),
    (Phase.CLEARED, Phase.READING): (Story().cleared(), Story().cleared().next_reading("device")),
    (Phase.LAPSED, Phase.READING): (
        Story().cleared().lapsed(),
        Story().cleared().lapsed().next_reading("device"),
    ),
    (Phase.LAPSED, Phase.ABANDONED): (Story().cleared().lapsed(), Story().cleared().lapsed().abandoned()),
}


@pytest.mark.parametrize("arrow", ARROWS, ids=lambda arrow: f"{arrow[0].value} to {arrow[1].value}")
def test_each_arrow(arrow: tuple[Phase, Phase]) -> None:
    before, then = ARROWS[arrow]

    assert (before.state().phase, then.state().phase) == arrow
    assert len(then.entries) == len(before.entries) + 1


def test_the_arrows_are_all_there_are() -> None:
    assert set(ARROWS) == {(before, then) for before, others in FOLLOWS.items() for then in others}
    assert FOLLOWS.keys() == set(Phase)


@pytest.mark.parametrize(
    ("told", "phase"),
    [
        # Whoever opened may hand in before the second has joined: on one device there is no other order.
        (Story().opened().handed_in(1), Phase.OPENED),
        (Story().opened().handed_in(1).joined(), Phase.READING),
        (Story().opened().voided(), Phase.OPENED),
        # Help alone disputes nothing.
        (Story().found(CAUTION).asked_for_help(), Phase.AGREED),
        (Story().found().asked_for_help(), Phase.STEPS),
        # The last stop is what counts, not the first.
        (Story().found(DIFFER).read_again(), Phase.STEPS),
        (Story().found(DIFFER).read_again(CAUTION), Phase.AGREED),
        # An acknowledged caution that is found again in the next reading stays acknowledged.
        (Story().found(CAUTION).acknowledged(CAUTION).read_again(CAUTION, touched=("order",)), Phase.STEPS),
        # After a lapse the device is read again, a new edition is frozen and signed again.
        (Story().cleared().lapsed().read_again(touched=("device",)), Phase.STEPS),
        (
            Story().cleared().lapsed().read_again(touched=("device",)).steps_confirmed().frozen(2),
            Phase.SIGNING,
        ),
        (
            Story().cleared().lapsed().read_again(touched=("device",)).steps_confirmed().frozen(2)
            .signed(edition=2),
            Phase.CLEARED,
        ),
    ],
)  # fmt: skip
def test_where_a_check_stands(told: Story, phase: Phase) -> None:
    assert told.state().phase is phase


@pytest.mark.parametrize("told", [Story().cleared().looked().started(), Story().found(DIFFER).abandoned()])
def test_an_ended_check_stays_ended(told: Story) -> None:
    assert told.state().phase in ENDED
    assert told.state(later=AN_HOUR).phase is told.state().phase


def test_a_check_that_was_started_in_time_does_not_lapse() -> None:
    assert Story().cleared().looked().started().state(later=CLEARANCE + AN_HOUR).phase is Phase.STARTED


def test_nobody_helps_a_check_that_was_abandoned() -> None:
    assert Story().found(DIFFER).asked_for_help().abandoned().state().open_help is None


# -----------------------------------------------------------------------------------------------------------
# What may be done in which phase


def test_every_action_has_its_phases_and_only_noting_a_stop_is_always_possible() -> None:
    assert WHEN.keys() == set(Action)
    assert [action for action, phases in WHEN.items() if phases == set(Phase)] == [Action.NOTE_STOP]


def test_every_phase_that_has_not_ended_leads_on_or_can_be_given_up() -> None:
    assert {phase for phase, others in FOLLOWS.items() if not others} == ENDED
    for phase in set(Phase) - ENDED - {Phase.CLEARED}:
        assert may_be_done(Action.ABANDON, phase)
    # While cleared it is not given up: it lapses by itself, and then the device is read again, or the check
    # is ended, when its two have left.
    assert not may_be_done(Action.ABANDON, Phase.CLEARED)
    for phase in (Phase.CLEARED, Phase.LAPSED):
        assert may_be_done(Action.READ_AGAIN, phase)


def test_nothing_is_read_or_signed_after_the_end() -> None:
    for phase in ENDED:
        assert [action for action in Action if may_be_done(action, phase)] == [Action.NOTE_STOP]
