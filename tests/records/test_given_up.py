"""What a check that was given up leaves to be done before the infusion runs on."""

import pytest

from app.records.events import DeviceStopped
from app.records.given_up import leads_after_giving_up
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import FIRST
from app.records.kinds import CLEARING, DEVICE_CHANGE, SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.records.steps import ANOTHER_DEVICE, NEW_SETTINGS, NEW_SYRINGE, TOTALS_CLEARED, WITH_CARRIER
from tests.story.events import Story, the_plan

NEW = fold_infusion("infusion-1", ())
RUNS = Story().cleared().started().infusion()
PLANS = {
    SYRINGE_CHANGE: the_plan(NEW_SYRINGE),
    DEVICE_CHANGE: the_plan(WITH_CARRIER, ANOTHER_DEVICE),
    SETTINGS_CHANGE: the_plan(NEW_SETTINGS),
    CLEARING: the_plan(TOTALS_CLEARED),
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


def test_of_what_never_ran_or_has_ended_nothing_is_left_to_do() -> None:
    over = Story().cleared().started().tell(DeviceStopped(stopped_at="", why="end-of-therapy", totals=""))

    assert left_by(opened(SYRINGE_CHANGE).both_handed_in(), NEW) == ""
    assert left_by(opened(SYRINGE_CHANGE).both_handed_in(), over.infusion()) == ""
