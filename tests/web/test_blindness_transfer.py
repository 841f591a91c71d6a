"""A transfer in two worlds: nothing that one nurse read reaches the other, or either unit, byte for byte."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair, started
from tests.support.observers import Scene, assert_same, looked_again, looked_everywhere, pressed_everything
from tests.support.world import World
from tests.web.test_blindness_handoff import NOT_IN_FORCE, OF_INCOMING, OF_OUTGOING
from tests.web.test_blindness_worlds import (
    Case,
    Stage,
    disputed,
    handed_in,
    handed_in_while_the_other_writes,
    nothing_read,
    one_handed_in,
    read_apart,
    scene_at,
    set_to,
    set_up_and_started,
)

_NO_HELPER = frozenset({"settling.take_help"})


def by_the_sender(world: World) -> Pair:
    """A patient was taken to another unit, and whoever is watched brought the patient."""
    pair = started(world)
    pair.is_taken()
    return pair


def by_the_receiver(world: World) -> Pair:
    """The same, and whoever is watched took the patient: the sender asks from the unit that was left."""
    pair = by_the_sender(world)
    return replace(pair, first=pair.second, second=pair.first)


CASES = {
    "sender: handed in": Case(stage=handed_in, begin=by_the_sender, worlds=OF_OUTGOING),
    "receiver: the other writes": Case(
        stage=handed_in_while_the_other_writes, begin=by_the_receiver, worlds=OF_INCOMING
    ),
    "receiver: not as it is in force": Case(
        stage=disputed, begin=by_the_receiver, worlds=NOT_IN_FORCE, not_pressed=_NO_HELPER
    ),
}


@pytest.mark.timeout(900)
@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_neither_nurse_and_neither_unit_can_tell_what_the_other_read(
    worlds: Callable[[], World], case: Case
) -> None:
    answered = []
    for read in case.worlds:
        scene = scene_at(worlds(), case, read)
        answered.append(
            [*looked_everywhere(scene), *pressed_everything(scene, case.not_pressed), *looked_again(scene)]
        )
    assert_same(*answered)
    # The list of the unit that was left is among what was asked for, with its line of the transfer.
    assert any(b"Taken from" in each.body and b"Recovery room" in each.body for each in answered[0])


def the_transfer_of(world: World, in_force: tuple[str, str, str]) -> Scene:
    """An infusion runs with this in force, its patient was taken, and the same two have joined the check."""
    pair = set_up_and_started(world, set_to(*in_force))
    earlier = pair.check
    pair.is_taken()
    observers = {FIRST_NURSE: pair.first, SECOND_NURSE: pair.second}
    return Scene(pair=pair, observers=observers, earlier=(earlier,))


@pytest.mark.timeout(900)
@pytest.mark.parametrize("stage", [nothing_read, one_handed_in, read_apart])
def test_neither_can_tell_what_is_in_force(worlds: Callable[[], World], stage: Stage) -> None:
    answered = []
    for in_force in (("0.2 mg", "H-1", "A"), ("0.3 mg", "H" * 40, "L" * 90)):
        scene = the_transfer_of(worlds(), in_force)
        stage(scene, set_to("0.4 mg", "H-9", "C"))
        answered.append(
            [*looked_everywhere(scene), *pressed_everything(scene, _NO_HELPER), *looked_again(scene)]
        )
    assert_same(*answered)


def test_both_are_told_once_both_have_read_it(worlds: Callable[[], World]) -> None:
    """The twin that must fail: what was closed is open then, and the comparison knows what is in force."""
    answered = []
    for in_force in (("0.2 mg", "H-1", "A"), ("0.3 mg", "H" * 40, "L" * 90)):
        scene = the_transfer_of(worlds(), in_force)
        scene.pair.read(set_to("0.4 mg", "H-9", "C"))
        scene.pair.read_again(set_to("0.4 mg", "H-9", "C"), set_to("0.4 mg", "H-9", "C"))
        answered.append(looked_everywhere(scene))
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
