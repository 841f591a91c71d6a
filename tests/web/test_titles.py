"""Titles tell the state of a check: in the tab and as the heading."""

import pytest

from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import Pair, cleared, compared, pair_of
from tests.support.browser import words_of
from tests.support.world import World
from tests.web.test_settling import ABOVE_HARD_LIMIT, ask, grant, helper_of
from tests.web.test_waiting import asked_by


def titles(pair: Pair) -> tuple[str, str]:
    """What the tab and the heading of the check's page say to its first nurse."""
    page = pair.page(pair.first)
    return words_of(next(page.all("title"))), page.heading


@pytest.mark.parametrize(
    ("phase", "title"),
    [
        (Phase.STEPS, "Order, label and device agree"),
        (Phase.CLEARED, "Ready to start"),
        (Phase.LAPSED, "No longer ready to start: the device shows something else"),
        (Phase.STARTED, "The infusion was started"),
        (Phase.DONE, "This check is done: order, label and device agree"),
        (Phase.LED, "This check led to a settings change"),
    ],
)
def test_each_state_has_a_title_of_its_own(world: World, phase: Phase, title: str) -> None:
    assert titles(pair_of(world).at_stage(phase)) == (title, title)


def test_an_ended_check_is_titled_so_and_still_says_what_was_found(world: World) -> None:
    pair = compared(world, answers(device={"demand_dose": "2 mg"}))
    headline = pair.page(pair.first).heading
    pair.abandons()
    assert titles(pair) == ("This check was given up", "This check was given up")
    assert headline in pair.page(pair.first).text


def test_a_stopped_device_comes_before_everything_else(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    pair.page(pair.first, "/stop")
    pair.first.press("with what stands above", why="other")
    assert titles(pair) == ("The device was stopped", "The device was stopped")


def test_a_rule_that_was_set_aside_is_the_title(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    grant(helper_of(pair, "p.varga"), reason="the order is right")
    assert titles(pair) == ("A rule was set aside for this once",) * 2


def test_the_last_look_says_until_when_and_how_long_that_is(world: World) -> None:
    pair = cleared(world)
    world.clock.pass_(minutes=1)
    for tail in ("", "/start"):
        assert "until 13:15, 14 min left" in pair.page(pair.first, tail).text
    for _ in range(3):
        # Whoever works is not signed out meanwhile.
        world.clock.pass_(minutes=4, seconds=30)
        pair.page(pair.first)
    assert "until 13:15, less than a minute left" in pair.page(pair.first).text


def test_once_one_pressed_started_the_page_of_the_other_says_so(world: World) -> None:
    """The other's page asks by itself whether anything happened, and is led on when something did."""
    pair = cleared(world)
    pair.look()
    waiting = pair.page(pair.second, "/start")
    asks = asked_by(waiting.body)
    assert pair.second.get(asks).status == 204
    pair.start()
    assert pair.second.get(asks).body == "Reload."
    assert pair.page(pair.second, "/start").heading == "The infusion was started"
