"""The life of a check: every arrow of the diagram is walked, and no other exists."""

from datetime import timedelta

import pytest

from app.records.kinds import RE_CHECK, SET_UP
from app.records.life import LIVES, Action, Life, may_be_done
from app.records.state import ENDED, Phase
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, NOTE, RULE, SHORT
from tests.story.events import CLEARANCE, Story

AN_HOUR = timedelta(hours=1)


def signing() -> Story:
    return Story().found().steps_confirmed().frozen()


def escalated() -> Story:
    return Story().found(RULE).asked_for_help().help_taken()


# From, to: a story that ends before the arrow, and the same story one act later.
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
    (Phase.ESCALATED, Phase.DISPUTED): (escalated(), escalated().help_settled("other")),
    (Phase.ESCALATED, Phase.READING): (
        escalated(),
        escalated().help_settled("order-clarified").next_reading("order", outcome="order-clarified"),
    ),
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
    (Phase.SIGNING, Phase.STEPS): (signing().signed(1), signing().signed(1).stopped()),
    (Phase.SIGNING, Phase.ABANDONED): (signing(), signing().abandoned()),
    (Phase.CLEARED, Phase.STARTED): (Story().cleared().looked(), Story().cleared().looked().started()),
    (Phase.CLEARED, Phase.LAPSED): (
        Story().cleared().looked(1, same=False),
        Story().cleared().looked(1, same=False).lapsed(),
    ),
    (Phase.CLEARED, Phase.READING): (Story().cleared(), Story().cleared().next_reading("device")),
    (Phase.CLEARED, Phase.STEPS): (Story().cleared().looked(), Story().cleared().looked().stopped()),
    (Phase.LAPSED, Phase.STEPS): (Story().cleared().lapsed(), Story().cleared().lapsed().stopped()),
    (Phase.LAPSED, Phase.READING): (
        Story().cleared().lapsed(),
        Story().cleared().lapsed().next_reading("device"),
    ),
    (Phase.LAPSED, Phase.ABANDONED): (Story().cleared().lapsed(), Story().cleared().lapsed().abandoned()),
}


def re_check() -> Story:
    return Story(kind=RE_CHECK)


def about_to_be_signed() -> Story:
    return re_check().found().frozen()


# Of a kind without steps that puts nothing right itself, and is done with the second signature.
OF_A_RE_CHECK: dict[tuple[Phase, Phase], tuple[Story, Story]] = {
    (Phase.OPENED, Phase.READING): (re_check().opened(), re_check().opened().joined()),
    (Phase.OPENED, Phase.ABANDONED): (re_check().opened(), re_check().opened().abandoned()),
    (Phase.READING, Phase.BOTH_HANDED_IN): (
        re_check().opened().joined().handed_in(1),
        re_check().opened().joined().handed_in(1).handed_in(2),
    ),
    (Phase.READING, Phase.ABANDONED): (
        re_check().opened().joined(),
        re_check().opened().joined().abandoned(),
    ),
    (Phase.BOTH_HANDED_IN, Phase.DISPUTED): (
        re_check().opened().joined().both_handed_in(),
        re_check().found(DEVICE_WRONG),
    ),
    (Phase.BOTH_HANDED_IN, Phase.ESCALATED): (
        re_check().opened().joined().asked_for_help().both_handed_in(),
        re_check().opened().joined().asked_for_help().both_handed_in().compared(DIFFER),
    ),
    (Phase.BOTH_HANDED_IN, Phase.AGREED): (
        re_check().opened().joined().both_handed_in(),
        re_check().found(CAUTION),
    ),
    (Phase.BOTH_HANDED_IN, Phase.SIGNING): (
        re_check().opened().joined().both_handed_in(),
        re_check().found(NOTE),
    ),
    (Phase.BOTH_HANDED_IN, Phase.READING): (
        re_check().opened().joined().both_handed_in(),
        re_check().opened().joined().both_handed_in().voided(),
    ),
    (Phase.BOTH_HANDED_IN, Phase.ABANDONED): (
        re_check().opened().joined().both_handed_in(),
        re_check().opened().joined().both_handed_in().abandoned(),
    ),
    (Phase.DISPUTED, Phase.READING): (re_check().found(DIFFER), re_check().found(DIFFER).next_reading()),
    (Phase.DISPUTED, Phase.ESCALATED): (
        re_check().found(RULE),
        re_check().found(RULE).asked_for_help(),
    ),
    (Phase.DISPUTED, Phase.LED): (re_check().found(DEVICE_WRONG), re_check().found(DEVICE_WRONG).led_on()),
    (Phase.DISPUTED, Phase.ABANDONED): (re_check().found(DIFFER), re_check().found(DIFFER).abandoned()),
    (Phase.ESCALATED, Phase.DISPUTED): (
        re_check().found(DIFFER).asked_for_help().help_taken(),
        re_check().found(DIFFER).asked_for_help().help_taken().help_settled("other"),
    ),
    (Phase.ESCALATED, Phase.READING): (
        re_check().found(DIFFER).asked_for_help().help_taken(),
        re_check().found(DIFFER).asked_for_help().help_taken().help_settled("read-again").next_reading(),
    ),
    (Phase.ESCALATED, Phase.AGREED): (
        re_check().found(RULE, CAUTION).asked_for_help().help_taken(),
        re_check().found(RULE, CAUTION).asked_for_help().help_taken().excepted(RULE),
    ),
    (Phase.ESCALATED, Phase.SIGNING): (
        re_check().found(RULE).asked_for_help().help_taken(),
        re_check().found(RULE).asked_for_help().help_taken().excepted(RULE),
    ),
    (Phase.ESCALATED, Phase.LED): (
        re_check().found(DEVICE_WRONG).asked_for_help(),
        re_check().found(DEVICE_WRONG).asked_for_help().led_on(),
    ),
    (Phase.ESCALATED, Phase.ABANDONED): (
        re_check().found(RULE).asked_for_help(),
        re_check().found(RULE).asked_for_help().abandoned(),
    ),
    (Phase.AGREED, Phase.SIGNING): (
        re_check().found(CAUTION).acknowledged(CAUTION, 2),
        re_check().found(CAUTION).acknowledged(CAUTION, 2).acknowledged(CAUTION, 1),
    ),
    (Phase.AGREED, Phase.READING): (re_check().found(SHORT), re_check().found(SHORT).next_reading()),
    (Phase.AGREED, Phase.LED): (re_check().found(CAUTION), re_check().found(CAUTION).led_on()),
    (Phase.AGREED, Phase.ABANDONED): (re_check().found(CAUTION), re_check().found(CAUTION).abandoned()),
    (Phase.SIGNING, Phase.DONE): (
        about_to_be_signed().signed(1).signed(2),
        about_to_be_signed().signed(1).signed(2).done(),
    ),
    (Phase.SIGNING, Phase.LED): (about_to_be_signed(), about_to_be_signed().led_on()),
    (Phase.SIGNING, Phase.ABANDONED): (about_to_be_signed(), about_to_be_signed().abandoned()),
}
ALL_ARROWS = {SET_UP.name: ARROWS, RE_CHECK.name: OF_A_RE_CHECK}


@pytest.mark.parametrize(
    ("kind", "arrow"),
    [(kind, arrow) for kind, arrows in ALL_ARROWS.items() for arrow in arrows],
    ids=lambda each: each if isinstance(each, str) else f"{each[0].value} to {each[1].value}",
)
def test_each_arrow(kind: str, arrow: tuple[Phase, Phase]) -> None:
    before, then = ALL_ARROWS[kind][arrow]

    assert (before.state().phase, then.state().phase) == arrow
    told = [each.event.kind for each in then.entries[len(before.entries) :]]
    # Who helps settles it and opens the next reading in one act.
    assert told == ["help-settled", "next-reading-opened"] or len(told) == 1


@pytest.mark.parametrize("kind", ALL_ARROWS)
def test_the_arrows_are_all_there_are(kind: str) -> None:
    walked = {(before, then) for before, others in LIVES[kind].follows.items() for then in others}
    assert ALL_ARROWS[kind].keys() == walked


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


def test_nobody_helps_a_check_that_was_given_up() -> None:
    assert Story().found(DIFFER).asked_for_help().abandoned().state().open_help is None
    assert re_check().found(DIFFER).asked_for_help().led_on().state().open_help is None


# -----------------------------------------------------------------------------------------------------------
# When the record is frozen


@pytest.mark.parametrize(
    ("told", "due"),
    [
        (Story().found(), False),
        (Story().found().steps_confirmed(), True),
        (Story().found().steps_confirmed().frozen(), False),
        (re_check().found(CAUTION), False),
        (re_check().found(CAUTION).acknowledged(CAUTION), True),
        (re_check().found(NOTE), True),
        (re_check().found(NOTE).frozen(), False),
        # What a third person is to decide may change what stands.
        (re_check().found(NOTE).asked_for_help(), False),
        (re_check().found(NOTE).asked_for_help().help_taken().help_settled("other"), True),
    ],
)
def test_a_record_is_frozen_when_all_that_it_holds_stands(told: Story, due: bool) -> None:  # noqa: FBT001  # expected
    assert told.state().is_to_be_frozen is due


# -----------------------------------------------------------------------------------------------------------
# What may be done in which phase


every_life = pytest.mark.parametrize("life", LIVES.values(), ids=LIVES)


def test_every_action_and_every_phase_belong_to_some_kind() -> None:
    assert {action for life in LIVES.values() for action in life.when} == set(Action)
    assert {phase for life in LIVES.values() for phase in life.follows} == set(Phase)


@every_life
def test_every_action_has_its_phases_and_only_noting_a_stop_is_always_possible(life: Life) -> None:
    assert all(life.when.values())
    everywhere = [action for action, phases in life.when.items() if phases == life.follows.keys()]
    assert everywhere == [Action.NOTE_STOP]


@every_life
def test_every_phase_that_has_not_ended_leads_on_and_can_be_given_up(life: Life) -> None:
    assert {phase for phase, others in life.follows.items() if not others} == ENDED & life.follows.keys()
    # While cleared it is not given up: it lapses by itself, and then the device is read again, or the check
    # is ended, when its two have left.
    assert life.when[Action.ABANDON] == life.follows.keys() - ENDED - {Phase.CLEARED}


def test_what_was_cleared_and_what_lapsed_is_read_again() -> None:
    assert {Phase.CLEARED, Phase.LAPSED} <= LIVES[SET_UP.name].when[Action.READ_AGAIN]


def test_what_puts_nothing_right_itself_reads_again_only_what_was_read_differently() -> None:
    assert LIVES[RE_CHECK.name].when[Action.READ_AGAIN] == {Phase.DISPUTED}


def test_what_may_be_done_is_asked_of_the_kind_and_the_phase() -> None:
    assert may_be_done(Action.READ_AGAIN, Story().found(CAUTION).state())
    assert not may_be_done(Action.READ_AGAIN, re_check().found(CAUTION).state())
    assert may_be_done(Action.LEAD_ON, re_check().found(CAUTION).state())
    assert not may_be_done(Action.LEAD_ON, re_check().opened().joined().state())
    # What a kind has nothing of is never done in it.
    assert not may_be_done(Action.OBSERVE_BASELINE, re_check().found(CAUTION).state())


@every_life
def test_nothing_is_read_or_signed_after_the_end(life: Life) -> None:
    for phase in ENDED & life.follows.keys():
        possible = {action for action, phases in life.when.items() if phase in phases}
        # What was replaced in a check that was given up is written down all the same, or put right.
        replaced = phase in (Phase.STARTED, Phase.ABANDONED) and Action.TAKE_BACK in life.when
        assert possible == {Action.NOTE_STOP, *([Action.TAKE_BACK] if replaced else [])}
