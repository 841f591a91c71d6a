"""Worlds that differ only in an order that another system sent, or in whether there is one for the patient.

Before both have handed in everybody who may meet the check is answered alike, byte for byte.
"""

from collections.abc import Callable

import pytest

from tests.factories.answers import answers
from tests.factories.orders import Json, as_both_read
from tests.story.orders import let_in, sends
from tests.story.pages import SECOND_NURSE, Pair, joined, started
from tests.support.observers import (
    OTHERS,
    Heard,
    Scene,
    assert_same,
    looked_again,
    looked_everywhere,
    pressed_everything,
)
from tests.support.world import World
from tests.web.test_blindness_worlds import SAME_FIELDS, disputed, handed_in_while_the_other_writes

SAME, ANOTHER_DOSE, NOBODYS = (
    as_both_read(),
    as_both_read(dose=7.3719),
    as_both_read("DM-77777", named="B-1", dose=3),
)
TWO = (SAME, as_both_read(named="A-1002"))
NOT_PRESSED = frozenset({"settling.take_help"})


def re_checking(world: World) -> Pair:
    pair = started(world)
    pair.re_checks()
    return pair


def scene_of(world: World, begin: Callable[[World], Pair], orders: tuple[Json, ...]) -> Scene:
    """Everybody is signed in, and the orders came before anybody read."""
    pair = begin(world)
    token = let_in(world.site, world.clock.now)
    for each in orders:
        sends(world.site, world.clock.now, token, each)
    observers = {login: world.at(login, "ward-4-east") for login in OTHERS if login != "i.bexley"}
    scene = Scene(pair=pair, observers={**observers, SECOND_NURSE: pair.second})
    for browser in scene.observers.values():
        browser.get("/")
    return scene


def heard_of(scene: Scene) -> list[Heard]:
    return [*looked_everywhere(scene), *pressed_everything(scene, NOT_PRESSED), *looked_again(scene)]


# Each time as many messages came: how many did is of no check, and stands on no page that is asked for here.
WORLDS = {
    "another dose": (joined, (SAME,), (ANOTHER_DOSE,)),
    "none of this patient": (joined, (ANOTHER_DOSE,), (NOBODYS,)),
    "one or two, at a re-check": (re_checking, TWO, (SAME, NOBODYS)),
}


@pytest.mark.timeout(900)
@pytest.mark.parametrize(("begin", "one", "other"), WORLDS.values(), ids=WORLDS)
def test_until_both_have_handed_in_nobody_can_tell_what_order_came(
    worlds: Callable[[], World],
    begin: Callable[[World], Pair],
    one: tuple[Json, ...],
    other: tuple[Json, ...],
) -> None:
    answered = []
    for each in (one, other):
        scene = scene_of(worlds(), begin, each)
        handed_in_while_the_other_writes(scene, answers())
        answered.append(heard_of(scene))
    assert_same(*answered)


@pytest.mark.timeout(900)
def test_while_two_readings_differ_neither_is_told_of_an_order(worlds: Callable[[], World]) -> None:
    answered = []
    for each in ((ANOTHER_DOSE,), (NOBODYS,)):
        scene = scene_of(worlds(), joined, each)
        disputed(scene, SAME_FIELDS[0])
        answered.append(heard_of(scene))
    assert_same(*answered)


def test_both_are_told_once_their_readings_agree(worlds: Callable[[], World]) -> None:
    """The twin that must fail: the comparison knows the order."""
    answered = []
    for each in ((ANOTHER_DOSE,), (NOBODYS,)):
        scene = scene_of(worlds(), joined, each)
        scene.pair.read(answers())
        scene.observers["first"] = scene.pair.first
        answered.append(looked_everywhere(scene))
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
