"""A transfer in two worlds: nothing that one nurse read reaches the other, or either unit, byte for byte."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.story.pages import Pair, started
from tests.support.observers import assert_same, looked_and_pressed
from tests.support.world import World
from tests.web.test_blindness_handoff import NO_HELPER, NOT_IN_FORCE, OF_INCOMING, OF_OUTGOING
from tests.web.test_blindness_worlds import (
    Case,
    disputed,
    handed_in,
    handed_in_while_the_other_writes,
    scene_at,
)


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
        stage=disputed, begin=by_the_receiver, worlds=NOT_IN_FORCE, not_pressed=NO_HELPER
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
        answered.append(looked_and_pressed(scene, case.not_pressed))
    assert_same(*answered)
    # The list of the unit that was left is among what was asked for, with its line of the transfer.
    assert any(b"Taken from" in each.body and b"Recovery room" in each.body for each in answered[0])
