"""How a request for help is settled: which outcomes fit a check, and what both read again after each."""

import pytest

from app.records.flat_rows import settled_in_state
from app.records.kinds import END_OF_PCA, HANDOFF, RE_CHECK, SET_UP, SETTINGS_CHANGE, SYRINGE_CHANGE
from app.records.outcomes import NAMED, outcomes_of, read_after
from app.records.replaced import find_replaced
from app.records.settled import How
from app.records.sources import Source
from app.records.state import PUT_RIGHT_MEANWHILE, Phase
from app.records.visibility import Sight, as_seen
from tests.factories.findings import DEVICE_WRONG, DIFFER, RULE
from tests.records.test_replaced import whole_plan
from tests.story.events import RUTH, Story

ALWAYS = {"other", "abandon"}
# What is put right in the kind of check is what an outcome may have put right.
IN_A_SET_UP = {"order-clarified", "syringe-returned", "device-reprogrammed", "identity-resolved"}


def asking(story: Story) -> Story:
    return story.asked_for_help().help_taken()


@pytest.mark.parametrize(
    ("story", "fitting"),
    [
        (asking(Story().opened()), IN_A_SET_UP),
        (asking(Story().opened().joined()), IN_A_SET_UP),
        (asking(Story().found(DEVICE_WRONG)), IN_A_SET_UP),
        (asking(Story().found(DIFFER)), IN_A_SET_UP | {"read-again"}),
        (asking(Story().found(RULE)).excepted(RULE), IN_A_SET_UP | {"exception-granted"}),
        # What was set aside before this request was made is no answer to it.
        (asking(asking(Story().found(RULE)).excepted(RULE).help_settled("other")), IN_A_SET_UP),
        # Nothing is put right in a handoff, which has no order, nor in a re-check.
        (asking(Story(kind=HANDOFF).opened().joined()), set()),
        (asking(Story(kind=RE_CHECK).found(DIFFER)), {"read-again"}),
        (asking(Story(kind=SYRINGE_CHANGE).opened()), IN_A_SET_UP - {"order-clarified"}),
        (asking(Story(kind=SETTINGS_CHANGE).opened()), IN_A_SET_UP - {"syringe-returned"}),
        (asking(Story(kind=END_OF_PCA).opened()), {"identity-resolved"}),
    ],
)
def test_what_fits_the_kind_of_check_and_how_it_stands_may_be_chosen(story: Story, fitting: set[str]) -> None:
    asked = story.state()

    assert {each.name for each in outcomes_of(asked)} == fitting | ALWAYS


def test_of_a_check_that_asks_for_no_help_there_is_none() -> None:
    assert outcomes_of(Story().found(DIFFER).state()) == ()
    assert outcomes_of(asking(Story().found(DIFFER)).abandoned().state()) == ()


@pytest.mark.parametrize(
    ("outcome", "in_set_up"),
    [
        ("order-clarified", (Source.ORDER,)),
        ("syringe-returned", (Source.LABEL,)),
        ("device-reprogrammed", (Source.DEVICE,)),
        ("identity-resolved", (Source.WRISTBAND, Source.CHART, Source.ORDER, Source.LABEL)),
        ("exception-granted", ()),
        ("other", ()),
        ("abandon", ()),
    ],
)
def test_what_is_read_again_after_each(outcome: str, in_set_up: tuple[Source, ...]) -> None:
    assert read_after(NAMED[outcome], SET_UP) == in_set_up


def test_who_is_the_patient_is_asked_of_each_source_that_the_kind_puts_right() -> None:
    resolved = NAMED["identity-resolved"]

    assert read_after(resolved, SYRINGE_CHANGE) == (Source.WRISTBAND, Source.LABEL)
    assert read_after(resolved, END_OF_PCA) == (Source.WRISTBAND,)
    assert read_after(resolved, HANDOFF) == ()


def meanwhile() -> Story:
    """Tomas has handed in when the order is clarified; Nadia has not."""
    story = asking(Story().opened().joined().handed_in(2)).help_settled("order-clarified")
    return story.put_right_meanwhile("order", outcome="order-clarified")


def test_what_is_put_right_while_they_read_voids_the_reading_and_says_so_without_a_danger() -> None:
    state = meanwhile().state()
    before, now = state.rounds

    assert (before.voided, before.puts_aside("order"), before.puts_aside("device")) == (
        PUT_RIGHT_MEANWHILE,
        True,
        False,
    )
    assert (now.touched, now.outcome, now.opened_by, now.handed_in) == (
        ("order",),
        "order-clarified",
        RUTH,
        {},
    )
    assert (state.phase, state.rereadings) == (Phase.READING, 0)
    assert as_seen(state, Sight.PROGRESS).rounds[0].voided == PUT_RIGHT_MEANWHILE


def test_it_is_remembered_for_as_long_as_that_reading_goes_on() -> None:
    danger = meanwhile().voided("device").state()
    again = meanwhile().both_handed_in().compared(DIFFER).next_reading().state()

    assert danger.current
    assert (danger.current.outcome, danger.current.touched) == ("order-clarified", ("order",))
    assert again.current
    assert again.current.outcome == ""


def test_a_syringe_that_went_back_while_they_read_is_a_syringe_replaced() -> None:
    primed = Story().opened().joined().primed()
    gone = asking(primed).help_settled("syringe-returned")
    told = gone.put_right_meanwhile("label", outcome="syringe-returned")

    assert find_replaced(told.entries, whole_plan(), {}).primed == 2
    assert told.state().confirmations == ()


def test_a_finding_that_is_gone_then_says_how_help_was_given() -> None:
    helped = asking(Story().found(DEVICE_WRONG)).help_settled("device-reprogrammed")
    state = helped.next_reading("device", outcome="device-reprogrammed").both_handed_in().compared().state()
    settled = settled_in_state(state, state.rounds[0], DEVICE_WRONG)

    assert (settled.how, settled.outcome) == (How.PUT_RIGHT, "device-reprogrammed")
    assert state.current
    assert state.current.opened_by == RUTH


def test_whoever_took_a_request_over_has_it_and_each_who_had_it_stays_a_helper() -> None:
    told = Story().found(DIFFER).asked_for_help().help_taken().help_taken(turn=2, by="petra").state()

    assert [(each.taken_by, [taking.by for taking in each.takings]) for each in told.help] == [
        ("petra", [RUTH, "petra"])
    ]
    assert told.helpers == {RUTH, "petra"}
