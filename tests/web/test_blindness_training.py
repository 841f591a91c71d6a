"""What is wrong on training cards, in two worlds: before the check on them has ended nobody can tell it."""

from collections.abc import Callable, Iterator

import pytest

from app.records.training_events import CardSetTaken
from app.review.errors import Error
from app.review.mixes import Mix
from app.site.installation import founded
from app.workflow.training_cards import deal_cards
from tests.factories.answers import answers
from tests.factories.site_keys import INSTALLATION
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, pair_of
from tests.support.observers import Heard, Scene, assert_same, heard
from tests.support.world import World
from tests.web.test_training import trainer_at

# Which errors are on the cards of each world.
WRONG = ({Error.LOCKOUT: 1}, {Error.PATIENT: 1, Error.DRUG: 5})
CHARGE = "r.calloway"


def on_cards(world: World, weights: dict[Error, int]) -> Scene:
    """In an installation for training two have joined a check on a set of cards."""
    with world.site.store.write() as tx:
        tx.append(founded(world.site.key, "a school", copy_of=INSTALLATION), at=world.clock())
    mix = Mix(name="x", weights=weights, source="")
    deal_cards(world.site, world.clock(), seed=repr(weights), mix=mix, sets=3)
    charge = trainer_at(world)
    pair = pair_of(world)
    pair.opens()
    with world.site.store.write() as tx:
        tx.append(CardSetTaken(number=3), at=world.clock(), check=pair.check)
    pair.joins()
    return Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second, CHARGE: charge})


def asked(scene: Scene) -> Iterator[Heard]:
    """Whatever could tell of it."""
    check = f"/check/{scene.pair.check}"
    infusion = f"/infusion/{scene.pair.state.check.infusion}"
    one = f"/training/people/{scene.pair.world.person(FIRST_NURSE).id}"
    of_all = ("/", check, f"{check}/training", f"{check}/read/label", infusion, "/findings")
    for who in scene.observers:
        for path in (*of_all, "/training", "/training/people", one):
            yield heard(scene, who, f"GET {path}")


def nothing_read(_scene: Scene) -> None:
    """Both have joined."""


def one_handed_in(scene: Scene) -> None:
    """One of the two has handed in."""
    scene.pair.hand_in(scene.pair.first, answers())


def both_compared(scene: Scene) -> None:
    """Both have read the same, and it was compared."""
    scene.pair.read(answers())


@pytest.mark.parametrize("stage", [nothing_read, one_handed_in, both_compared])
def test_before_the_check_has_ended_nobody_can_tell_what_is_wrong(
    worlds: Callable[[], World], stage: Callable[[Scene], None]
) -> None:
    answered = []
    for weights in WRONG:
        scene = on_cards(worlds(), weights)
        stage(scene)
        answered.append([*asked(scene)])
    assert_same(*answered)


def test_once_it_has_ended_it_is_told(worlds: Callable[[], World]) -> None:
    """The twin that must fail."""
    answered = []
    for weights in WRONG:
        scene = on_cards(worlds(), weights)
        scene.pair.first.get(f"/check/{scene.pair.check}/abandon")
        scene.pair.first.press("Give this check up", reason="order-withdrawn")
        answered.append([*asked(scene)])
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
