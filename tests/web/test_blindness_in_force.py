"""What is in force, in two worlds: whoever takes over reads without it, byte for byte."""

from collections.abc import Callable

import pytest

from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair
from tests.support.observers import Scene, assert_same, looked_and_pressed, looked_everywhere
from tests.support.sampling import cases
from tests.support.world import World
from tests.web.test_blindness_handoff import NO_HELPER
from tests.web.test_blindness_worlds import (
    Stage,
    nothing_read,
    one_handed_in,
    read_apart,
    set_to,
    set_up_and_started,
)

# The kinds of check in which what was read is held beside what is in force.
TAKES_OVER = {"handoff": Pair.hands_over, "transfer": Pair.is_taken}
IN_FORCE = (("0.2 mg", "H-1", "A"), ("0.3 mg", "H" * 40, "L" * 90))

every_way = pytest.mark.parametrize("takes_over", TAKES_OVER.values(), ids=TAKES_OVER)


def taken_over(world: World, takes_over: Callable[[Pair], None], in_force: tuple[str, str, str]) -> Scene:
    """An infusion runs with this in force, and the same two have joined the check of who takes it over."""
    pair = set_up_and_started(world, set_to(*in_force))
    earlier = pair.check
    takes_over(pair)
    observers = {FIRST_NURSE: pair.first, SECOND_NURSE: pair.second}
    return Scene(pair=pair, observers=observers, earlier=(earlier,))


@pytest.mark.timeout(900)
@every_way
@pytest.mark.parametrize("stage", cases([one_handed_in, nothing_read, read_apart], one_in=3))
def test_neither_can_tell_what_is_in_force(
    worlds: Callable[[], World], stage: Stage, takes_over: Callable[[Pair], None]
) -> None:
    answered = []
    for in_force in IN_FORCE:
        scene = taken_over(worlds(), takes_over, in_force)
        stage(scene, set_to("0.4 mg", "H-9", "C"))
        answered.append(looked_and_pressed(scene, NO_HELPER))
    assert_same(*answered)


@every_way
def test_both_are_told_once_both_have_read_it(
    worlds: Callable[[], World], takes_over: Callable[[Pair], None]
) -> None:
    """The twin that must fail: what was closed is open then, and the comparison knows what is in force."""
    answered = []
    for in_force in IN_FORCE:
        scene = taken_over(worlds(), takes_over, in_force)
        scene.pair.read(set_to("0.4 mg", "H-9", "C"))
        scene.pair.read_again(set_to("0.4 mg", "H-9", "C"), set_to("0.4 mg", "H-9", "C"))
        answered.append(looked_everywhere(scene))
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
