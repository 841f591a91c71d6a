"""The wristband once more, before anything is connected, as the two meet it on their pages."""

from collections.abc import Callable

import pytest

from app.records.state import Phase
from app.records.steps import DONE
from tests.factories.answers import answers
from tests.story.pages import (
    DONE_BUTTON,
    FIRST_NURSE,
    SECOND_NURSE,
    VERIFIED_BUTTON,
    Pair,
    at_steps,
    compared,
)
from tests.support.browser import Page
from tests.support.observers import Scene, assert_same, looked_everywhere
from tests.support.world import World

ANOTHER = "DM-51111"
# A code with a service relation number, as a wristband may carry it (see tests/quantities/test_scanned.py).
CODE = "]d28018950110153000123454\x1d80191"
IN_CODE = "950110153000123454"


def at_connecting(pair: Pair) -> Pair:
    """The first group is verified."""
    pair.observe()
    pair.prime()
    pair.tick(pair.first, DONE_BUTTON)
    pair.tick(pair.second, VERIFIED_BUTTON)
    pair.page(pair.first, "/steps")
    return pair


def boxes(page: Page) -> list[str]:
    return [each.get("value", "") for each in page.all("input") if each.get("name") == DONE]


def test_nothing_can_be_connected_before_the_wristband_is_read(world: World) -> None:
    pair = at_connecting(at_steps(world))

    assert "connected" not in boxes(pair.first.page)
    assert "Waits for the wristband to be read." in pair.first.page.text
    page = pair.first.press(DONE_BUTTON, patient="dm 40417")
    assert "connected" in boxes(page)
    # What was agreed on stands nowhere on the page, to be copied from.
    assert "40417" not in page.text
    page = pair.page(pair.second, "/steps")
    assert "I saw the wristband read at the patient to whom this line goes." in page.text


def test_another_patient_stops_it_and_what_was_read_is_shown_to_nobody(world: World) -> None:
    pair = at_connecting(at_steps(world))
    page = pair.first.press(DONE_BUTTON, patient=ANOTHER)

    for shown in (page, pair.page(pair.second, "/steps")):
        assert "DO NOT CONNECT" in shown.text
        assert "Nothing is connected." in shown.text
        assert "51111" not in shown.text
        assert "connected" not in boxes(shown)
    pair.page(pair.first, "/steps")
    assert "DO NOT CONNECT" not in pair.first.press(DONE_BUTTON, patient="DM-40417").text


def test_a_wristbands_code_may_be_scanned_there(world: World) -> None:
    named = {"identifier": IN_CODE}
    pair = compared(world, answers(wristband=named, order=named, label=named))
    at_connecting(pair).first.press(DONE_BUTTON, patient=CODE)

    assert "connected" in boxes(pair.first.page)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("*0417", "Write the whole identifier, as the wristband has it."),
        ("0109501101530003172801311055", "This code does not say who the patient is."),
        ("9" * 300, "Field cannot be longer than 200 characters."),
    ],
)
def test_what_is_no_identifier_stays_beside_its_fault(world: World, typed: str, says: str) -> None:
    pair = at_connecting(at_steps(world))
    page = pair.first.press(DONE_BUTTON, patient=typed, done="anti-siphon")

    assert page.status == 422
    assert says in page.text
    form, _ = page.form_with(DONE_BUTTON)
    assert dict(form.held)["patient"] == typed
    assert ("done", "anti-siphon") in form.held, "what was ticked stays"
    assert pair.state.differed == ()


def test_whoever_connects_is_asked_to_read_it(world: World) -> None:
    pair = at_connecting(at_steps(world))
    pair.first.press(DONE_BUTTON, patient="DM-40417")
    page = pair.page(pair.second, "/steps")

    assert "connected" not in boxes(page)
    assert "Waits for Nadia Ferrow, who read the wristband." in page.text
    assert "Somebody else connects: read it anew" in page.text
    page = pair.second.press(VERIFIED_BUTTON, patient="DM-40417")
    assert "connected" in boxes(page)
    page = pair.page(pair.first, "/steps")
    assert "connected" not in boxes(page)
    pair.page(pair.second, "/steps")
    page = pair.second.press(DONE_BUTTON, done="connected")
    assert "Waits for Nadia Ferrow to verify it." in page.text


def test_whoever_read_it_cannot_say_that_the_other_connected(world: World) -> None:
    pair = at_connecting(at_steps(world))
    pair.first.press(DONE_BUTTON, patient="DM-40417")
    page = pair.first.press("Tomas Osmund did it", done="connected")

    assert page.status == 422
    assert "Whoever connects reads the wristband" in page.text


def test_the_record_says_that_another_was_read_and_not_which(world: World) -> None:
    pair = at_connecting(at_steps(world))
    pair.first.press(DONE_BUTTON, patient=ANOTHER)
    while not pair.state.steps_complete:
        pair.tick(pair.first, DONE_BUTTON)
        pair.tick(pair.second, VERIFIED_BUTTON)
    page = pair.page(pair.first, "/sign")

    assert pair.phase() is Phase.SIGNING
    assert "another patient identifier was read than both had read" in page.text
    assert "51111" not in page.text


def test_nobody_can_tell_which_patient_was_read_instead(worlds: Callable[[], World]) -> None:
    answered = []
    for typed in (ANOTHER, "X" * 180):
        pair = at_connecting(at_steps(worlds()))
        pair.first.press(DONE_BUTTON, patient=typed)
        scene = Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second})
        answered.append(looked_everywhere(scene))
    assert_same(*answered)
