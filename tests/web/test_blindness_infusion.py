"""The line and the page of an infusion, in two worlds that differ in what was read of it before.

To the two of a check the line says its state alone, in the place of that state, and the page is closed, from
joining until their readings agree.
"""

from collections.abc import Callable

import pytest

from app.records.state import Phase
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers, changed
from tests.story.pages import Pair, pair_of
from tests.support.observers import Heard, Scene, assert_same, heard
from tests.support.world import World

# The charge nurse, who has the shift sheet too, is one of the two.
LOGINS = ("n.ferrow", "r.calloway")
# Of the first syringe pharmacy was to be asked for the next one a day ago.
USE_BY = ("2031-05-02", "2031-12-31")
LOW_BY_ITS_USE_BY = {"account": {"lead_time": "24 h"}, "syringe_in_use_hours": 168}
Stage = Callable[[Pair], None]


def set_up(world: World, use_by: str) -> Pair:
    """An infusion that runs, and the same two who read it once more."""
    world.publishes_policy(**LOW_BY_ITS_USE_BY)
    pair = pair_of(world, logins=LOGINS).at_stage(Phase.READING)
    pair.read(changed(answers(), label={"use_by": use_by}))
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    sweep_once(world.site, world.clock.now, holder="test")
    return pair


def joined(pair: Pair) -> None:
    """Both have joined, and nobody has read."""
    pair.re_checks()


def one_handed_in(pair: Pair) -> None:
    """One has handed in."""
    pair.re_checks()
    pair.hand_in(pair.first, answers())


def read_apart(pair: Pair) -> None:
    """Two readings differ, and are read again."""
    pair.re_checks()
    pair.read(answers(), changed(answers(), device={"lockout": "7 min"}))
    assert pair.phase() is Phase.DISPUTED


def asked(pair: Pair) -> list[Heard]:
    """What list, shift sheet and page say to the two."""
    scene = Scene(pair=pair, observers=dict(zip(LOGINS, pair.both, strict=True)))
    paths = ("/", "/shift-sheet", "/shift-sheet/sheet.pdf", f"/infusion/{pair.state.check.infusion}")
    return [heard(scene, who, f"GET {path}") for who in LOGINS for path in paths]


@pytest.mark.parametrize("stage", [joined, one_handed_in, read_apart])
def test_the_two_cannot_tell_how_long_the_syringe_lasts(worlds: Callable[[], World], stage: Stage) -> None:
    answered = []
    for use_by in USE_BY:
        pair = set_up(worlds(), use_by)
        stage(pair)
        answered.append(asked(pair))
    assert_same(*answered)
    assert all(b"syringe low" not in each.body for each in answered[0])


def test_they_can_while_they_do_not_read(worlds: Callable[[], World]) -> None:
    """The twin that must fail."""
    answered = [asked(set_up(worlds(), use_by)) for use_by in USE_BY]
    for each, other in zip(*answered, strict=True):
        if each.status == 200:
            with pytest.raises(AssertionError, match="can tell the worlds apart"):
                assert_same([each], [other])
