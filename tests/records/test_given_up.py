"""What a check that was given up leaves to be done before the infusion runs on."""

from dataclasses import replace

import pytest

from app.records.events import DeviceStopped
from app.records.followup import Found
from app.records.given_up import account_after_giving_up, leads_after_giving_up, reading_of_what_runs
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import FIRST
from app.records.kinds import (
    CLEARING,
    DEVICE_CHANGE,
    END_OF_PCA,
    HANDOFF_STANDING,
    RE_CHECK,
    SETTINGS_CHANGE,
    SYRINGE_CHANGE,
    Kind,
)
from app.records.steps import (
    ANOTHER_DEVICE,
    NEW_SETTINGS,
    NEW_SYRINGE,
    OFF_THE_PATIENT,
    TOTALS_CLEARED,
    WITH_CARRIER,
)
from tests.factories.findings import (
    CAUTION,
    DEVICE_WRONG,
    DIFFER,
    NOT_WITNESSED,
    RULE,
    SHORT,
    a_finding,
)
from tests.story.events import Story, the_plan

NEW = fold_infusion("infusion-1", ())
RUNS = Story().cleared().started().infusion()
PLANS = {
    SYRINGE_CHANGE: the_plan(NEW_SYRINGE),
    DEVICE_CHANGE: the_plan(WITH_CARRIER, ANOTHER_DEVICE),
    SETTINGS_CHANGE: the_plan(NEW_SETTINGS),
    CLEARING: the_plan(TOTALS_CLEARED),
    END_OF_PCA: the_plan(OFF_THE_PATIENT),
}


def opened(kind: Kind) -> Story:
    return Story(kind=kind, plan=PLANS[kind]).opened().joined()


def left_by(story: Story, infusion: InfusionState = RUNS) -> str:
    return leads_after_giving_up(story.abandoned().state(), infusion)


@pytest.mark.parametrize(
    ("kind", "step"),
    [
        (SYRINGE_CHANGE, "parted"),
        (SYRINGE_CHANGE, "old-out"),
        (DEVICE_CHANGE, "parted-for-device"),
    ],
)
def test_a_change_given_up_with_the_syringe_off_is_taken_up_from_its_beginning(kind: Kind, step: str) -> None:
    assert left_by(opened(kind).confirmed(FIRST, step)) == kind.name
    # Whoever read what was loaded has it on the device, whatever was said of the steps.
    assert left_by(opened(kind).handed_in(FIRST)) == kind.name


@pytest.mark.parametrize(
    ("kind", "paused"), [(SYRINGE_CHANGE, "paused"), (DEVICE_CHANGE, "paused-for-device")]
)
def test_one_given_up_before_the_line_is_off_leaves_nothing(kind: Kind, paused: str) -> None:
    assert left_by(opened(kind)) == ""
    assert left_by(opened(kind).observed().confirmed(FIRST, paused, "baseline")) == ""


@pytest.mark.parametrize("kind", [SETTINGS_CHANGE, CLEARING])
def test_where_the_syringe_stays_the_look_at_the_device_is_enough(kind: Kind) -> None:
    assert left_by(opened(kind).confirmed(FIRST, "paused", "programmed").both_handed_in()) == ""


# ---------------------------------------------------------------------------------------------------------
# What was found of what runs

# One of the two read four milligrams, the other two.
BY_ONE = replace(RULE, readings={"A.device": "4 mg", "B.device": "2 mg"})
EXPIRED = a_finding("label-expired", readings={"A.label": "2031-01-31", "B.label": "2031-01-31"})


@pytest.mark.parametrize(
    ("found", "kind"),
    [
        ((), ""),
        ((CAUTION,), ""),
        ((DEVICE_WRONG,), "settings-change"),
        ((EXPIRED,), "syringe-change"),
        ((DEVICE_WRONG, EXPIRED), "repeat-set-up"),
        # Apart in one thing, alike in another; what one of them alone read is not enough.
        ((DEVICE_WRONG, DIFFER), "settings-change"),
        ((BY_ONE, DIFFER), ""),
        ((DIFFER,), ""),
        # An account that does not add up asks for no change.
        ((SHORT,), ""),
    ],
)
def test_what_two_read_alike_and_is_wrong_is_put_right_whatever_became_of_their_check(
    found: tuple[Found, ...], kind: str
) -> None:
    assert left_by(Story(kind=RE_CHECK).found(*found)) == kind
    # Where they had begun to read again, it is what they had found before.
    assert left_by(Story(kind=RE_CHECK).found(*found).next_reading()) == kind


def test_what_was_set_aside_leaves_nothing_and_what_was_never_compared_neither() -> None:
    assert left_by(Story(kind=RE_CHECK).found(RULE).excepted(RULE)) == ""
    assert left_by(Story(kind=RE_CHECK).opened().joined().both_handed_in()) == ""


def test_the_reading_of_what_runs_counts_where_its_two_agreed() -> None:
    """The last that was compared, whatever was begun since."""
    told = Story(kind=RE_CHECK).found(DEVICE_WRONG)
    assert reading_of_what_runs(told.state()) == reading_of_what_runs(told.next_reading().state()) == 1
    assert reading_of_what_runs(Story(kind=RE_CHECK).found(DEVICE_WRONG, DIFFER).state()) == 0
    assert reading_of_what_runs(Story(kind=RE_CHECK).opened().joined().state()) == 0
    # It may be another's device.
    another = a_finding("patient-differs", readings={"A.wristband": "DM-9", "B.wristband": "DM-9"})
    assert reading_of_what_runs(Story(kind=RE_CHECK).found(another).state()) == 0
    # What stands is read before it is taken apart: only a start makes it count.
    assert reading_of_what_runs(Story(kind=SYRINGE_CHANGE).found().state()) == 0


def test_of_what_does_not_run_nothing_is_put_right_by_another_check() -> None:
    assert left_by(Story().found(DEVICE_WRONG)) == left_by(Story(kind=HANDOFF_STANDING).found(EXPIRED)) == ""


def test_an_account_that_did_not_add_up_stays_open_counted_again_or_not() -> None:
    def reading(story: Story) -> int:
        left = account_after_giving_up(story.abandoned().state(), but={"account-not-witnessed"})
        return left.number if left else 0

    for kind in (RE_CHECK, END_OF_PCA):
        assert reading(Story(kind=kind, plan=PLANS.get(kind)).found(SHORT)) == 1
    assert reading(Story(kind=RE_CHECK).found(SHORT, DIFFER).next_reading()) == 1
    assert reading(Story(kind=RE_CHECK).found(SHORT).read_again(SHORT)) == 2
    assert reading(Story(kind=RE_CHECK).found(SHORT).read_again()) == 0
    assert reading(Story(kind=RE_CHECK).found(NOT_WITNESSED)) == 0
    assert reading(Story(kind=RE_CHECK).opened()) == 0


def test_of_what_never_ran_or_has_ended_nothing_is_left_to_do() -> None:
    over = Story().cleared().started().tell(DeviceStopped(stopped_at="", why="end-of-therapy", totals=""))

    assert left_by(opened(SYRINGE_CHANGE).both_handed_in(), NEW) == ""
    assert left_by(opened(SYRINGE_CHANGE).both_handed_in(), over.infusion()) == ""
