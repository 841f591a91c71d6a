"""What of the safety steps stands once another syringe is on, or the same one after danger was seen."""

from app.records.kept import FIRST
from app.records.steps import PERHAPS_REPLACED, WITH_CARRIER
from tests.factories.findings import DEVICE_WRONG
from tests.story.events import Story, the_plan


def test_where_another_syringe_is_told_what_was_done_with_the_one_before_is_due_again() -> None:
    story = Story().found(DEVICE_WRONG).next_reading("order").primed()
    story.confirmed(FIRST, "cover-locked", "totals-begin").voided("label").both_handed_in().compared()

    def confirmed(*other: int) -> set[str]:
        return {each.step for each in story.state(other_syringe=frozenset(other)).confirmations}

    assert confirmed() == {"primed-volume", "cover-locked", "totals-begin"}
    assert confirmed(story.state().last_position) == {"totals-begin"}


def test_that_the_syringe_is_the_same_is_said_of_the_last_danger() -> None:
    story = Story(plan=the_plan(WITH_CARRIER, PERHAPS_REPLACED)).found(DEVICE_WRONG).voided("label")
    story.confirmed(FIRST, "same-syringe").both_handed_in().compared()

    def confirmed() -> set[str]:
        return {each.step for each in story.state().confirmations}

    assert confirmed() == {"same-syringe"}
    story.voided("device")
    assert confirmed() == {"same-syringe"}
    story.voided()
    assert confirmed() == set()
