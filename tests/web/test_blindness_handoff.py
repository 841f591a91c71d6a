"""A handoff in two worlds: nothing that one nurse read reaches the other, nor anybody else, byte for byte."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.factories.answers import HARD_TO_WAKE, answers
from tests.story.pages import SECOND_NURSE, Pair, started
from tests.support.observers import assert_same, looked_and_pressed
from tests.support.world import World
from tests.web.test_blindness_worlds import (
    Case,
    disputed,
    handed_in,
    handed_in_while_the_other_writes,
    scene_at,
)

NO_HELPER = frozenset({"settling.take_help"})
# Short or long, and other answers everywhere.
OF_OUTGOING = (
    answers(totals={"presses": "9", "doses": "3"}),
    answers(
        totals={"total_amount": "11.9 mg", "presses": "999999", "doses": "21", "left": "none"},
        bedside={"sedation": HARD_TO_WAKE, "respiratory_rate": "4 /min"},
    ),
)
OF_INCOMING = (
    answers(label={"lot": "1"}, wristband={"identifier": "1"}),
    answers(
        wristband={"identifier": "I" * 190},
        label={"drug": "fentaNYL", "amount": "30 mg", "lot": "L" * 190},
        device={"demand_dose": "2 mg", "lockout": "6 min"},
        totals={"total_amount": "11.9 mg", "presses": "999999", "doses": "21", "left": "none"},
        bedside={
            "line_traced": "not-as-it-should-be",
            "button_used": "others-may-press",
            "pain_at_rest": "9",
        },
    ),
)

# Two ways in which what one nurse read is not what is in force.
NOT_IN_FORCE = (
    answers(device={"demand_dose": "2 mg"}, label={"lot": "A"}),
    answers(device={"demand_dose": "7.3719 mg"}, label={"lot": "B" * 150}),
)


def by_the_outgoing(world: World) -> Pair:
    """What runs is handed over, and whoever is watched is the outgoing nurse."""
    pair = started(world)
    pair.hands_over()
    return pair


def by_the_incoming(world: World) -> Pair:
    """The same, and whoever is watched is the incoming nurse."""
    pair = by_the_outgoing(world)
    return replace(pair, first=pair.second, second=pair.first)


CASES = {
    "outgoing: handed in": Case(stage=handed_in, begin=by_the_outgoing, worlds=OF_OUTGOING),
    "outgoing: the other writes": Case(
        stage=handed_in_while_the_other_writes, begin=by_the_outgoing, worlds=OF_OUTGOING
    ),
    "incoming: the other writes": Case(
        stage=handed_in_while_the_other_writes, begin=by_the_incoming, worlds=OF_INCOMING
    ),
    # What the incoming nurse read is not what is in force: which field, and nothing of what was read.
    "incoming: not as it is in force": Case(
        stage=disputed, begin=by_the_incoming, worlds=NOT_IN_FORCE, not_pressed=NO_HELPER
    ),
}


@pytest.mark.timeout(900)
@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_neither_nurse_can_tell_what_the_other_read(worlds: Callable[[], World], case: Case) -> None:
    answered = []
    for read in case.worlds:
        scene = scene_at(worlds(), case, read)
        answered.append(looked_and_pressed(scene, case.not_pressed))
    assert_same(*answered)
    assert any(each.who == SECOND_NURSE and b"Ward 4 East" in each.body for each in answered[0])
