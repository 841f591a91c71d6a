"""What was issued, in two worlds: from joining until both have handed in neither nurse can tell it."""

from collections.abc import Callable, Iterator

import pytest

from app.records.issued import issued_in
from tests.factories.answers import answers
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, pair_of
from tests.support.observers import Heard, Scene, assert_same, heard, token_of
from tests.support.world import World
from tests.web.test_issuing import GIVEN, issues

ISSUED = (
    {"number": "LOT-7", "volume": "30", "sealed": "yes", "receiver": "Nadia Ferrow"},
    {"number": "L" * 40, "volume": "48.75", "sealed": "no", "receiver": "Somebody whose name is long"},
)
Stage = Callable[[Scene], None]


def issued_and_joined(world: World, issued: dict[str, str]) -> Scene:
    """A syringe was issued by a colleague for the bed, and two have joined its set-up."""
    pair = pair_of(world)
    issues(world.at("r.calloway"), bed=pair.bed, **issued)
    pair.opens()
    pair.joins()
    return Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second})


def nothing_read(scene: Scene) -> None:
    """Both have joined."""


def one_handed_in(scene: Scene) -> None:
    """One of the two has handed in."""
    scene.pair.hand_in(scene.pair.first, answers())


def asked(scene: Scene) -> Iterator[Heard]:
    """Whatever could tell of it, asked by the two; and one with this number written down by each."""
    pair = scene.pair
    infusion = pair.state.check.infusion
    with scene.world.site.store.read() as reader:
        (issue,) = issued_in(reader.course(infusion))
    check, its = f"/check/{pair.check}", f"/infusion/{infusion}"
    for who in scene.observers:
        for path in (
            "/",
            check,
            f"{check}/read/label",
            its,
            f"{its}/issue",
            f"{its}/issued/{issue.position}",
        ):
            yield heard(scene, who, f"GET {path}")
        token = [("csrf_token", token_of(scene.observers[who]))]
        unit = scene.world.person(who).unit
        yield heard(scene, who, "POST /issue", [*token, ("unit", unit), *{**GIVEN, "bed": pair.bed}.items()])
        yield heard(scene, who, f"POST {its}/issued/{issue.position}/gone", token)


@pytest.mark.parametrize("stage", [nothing_read, one_handed_in])
def test_neither_can_tell_what_was_issued(worlds: Callable[[], World], stage: Stage) -> None:
    answered = []
    for issued in ISSUED:
        scene = issued_and_joined(worlds(), issued)
        stage(scene)
        answered.append([*asked(scene)])
    assert_same(*answered)


def test_both_are_told_once_both_have_handed_in(worlds: Callable[[], World]) -> None:
    """The twin that must fail: what two read is held beside it then."""
    answered = []
    for issued in ISSUED:
        scene = issued_and_joined(worlds(), issued)
        scene.pair.read(answers())
        answered.append([*asked(scene)])
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
