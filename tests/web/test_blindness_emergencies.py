"""What was told of an emergency is closed to the two who read blind there: two worlds that differ by it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pytest

from app.records.emergencies import TELLING
from app.workflow import emergencies
from app.workflow.holding_evidence import SealApart, confirm_evidence
from tests.factories.answers import answers
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair, started
from tests.support import observers
from tests.support.observers import Heard, Scene, assert_same
from tests.support.world import World


@dataclass(frozen=True, kw_only=True)
class Words:
    """What people wrote of an emergency in their own words, which may hold a value."""

    told: str
    prescriber: str
    read: Mapping[str, str]


SAID = (
    Words(told="0.1 mg", prescriber="Dr Hale", read={"left": "26 mL", "total_amount": "0 mg"}),
    Words(
        told="7.3719 mg " * 9,
        prescriber="H" * 90,
        read={"left": "2.25 mL", "total_amount": "none", "total_volume": "20.125 mL", "presses": "41"},
    ),
)


def told(world: World, pair: Pair, words: Words) -> None:
    """A reversal agent for itch, evidence that was given free, a lost key, and a decision."""
    infusion, act = pair.state.check.infusion, pair.act(world.at("r.calloway"))
    itch = emergencies.note_itch(world.site, act, infusion)
    assert isinstance(itch, emergencies.Noted)
    said = {"dose": words.told, "response": words.told}
    emergencies.tell_afterwards(world.site, act, infusion, position=itch.position, told=said)
    key = emergencies.note_key(world.site, act, infusion, what="key")
    assert isinstance(key, emergencies.Noted)
    emergencies.tell_afterwards(world.site, act, infusion, position=key.position, told={"found": words.told})
    emergencies.note_harm(world.site, act, infusion, what="overdose")
    sealed = emergencies.Sealed(seal=words.told, holder=words.told, place=words.told, read=words.read)
    assert isinstance(emergencies.keep_evidence(world.site, act, infusion, sealed), emergencies.Noted)
    pharmacist, number = pair.act(world.at("p.varga")), words.told
    assert isinstance(confirm_evidence(world.site, pharmacist, infusion, seal=f"1{number}"), SealApart)
    assert isinstance(confirm_evidence(world.site, pharmacist, infusion, seal=number), emergencies.Noted)
    emergencies.note_reversal(world.site, act, infusion)
    emergencies.decide_restart(world.site, act, infusion, prescriber=words.prescriber)


def before_they_joined(world: World, words: Words) -> Scene:
    """It was told, and then the two open their next check: a set-up, for its syringe was kept."""
    pair = started(world)
    told(world, pair, words)
    quality = pair.act(world.at("q.lindqvist"))
    infusion = pair.state.check.infusion
    emergencies.release_evidence(world.site, quality, infusion)
    pair.check = world.open_check(pair.first, pair.bed)
    assert pair.state.check.infusion == infusion
    world.join(pair.second, pair.check)
    return Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second})


def while_they_read(world: World, words: Words) -> Scene:
    """The two read what runs, and one has handed in, when it is told."""
    pair = started(world)
    pair.re_checks()
    pair.hand_in(pair.first, answers())
    told(world, pair, words)
    return Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second})


def looked_at_each(scene: Scene) -> list[Heard]:
    """The page of each entry that was told of, by its own position."""
    infusion = scene.pair.state.check.infusion
    with scene.world.site.store.read() as reader:
        positions = [each.position for each in reader.course(infusion) if each.event.kind in TELLING]
    return [
        observers.heard(scene, who, f"GET /infusion/{infusion}/emergency/{position}")
        for position in positions
        for who in scene.observers
    ]


@pytest.mark.timeout(900)
@pytest.mark.parametrize("begun", [before_they_joined, while_they_read])
def test_the_two_cannot_tell_what_was_told(
    worlds: Callable[[], World], begun: Callable[[World, Words], Scene]
) -> None:
    answered = []
    for words in SAID:
        scene = begun(worlds(), words)
        answered.append(
            [
                *observers.looked_everywhere(scene),
                *looked_at_each(scene),
                *observers.pressed_everything(scene, frozenset()),
                *observers.looked_again(scene),
            ]
        )
    assert_same(*answered)
    # That it was done, when and by whom is for everybody.
    assert any(b"is not found" in each.body for each in answered[0])


def test_whoever_does_not_read_there_can(worlds: Callable[[], World]) -> None:
    """The twin that must fail."""
    answered = []
    for words in SAID:
        world = worlds()
        scene = before_they_joined(world, words)
        charge = world.at("r.calloway")
        asks = Scene(pair=scene.pair, observers={FIRST_NURSE: charge, SECOND_NURSE: charge})
        answered.append(observers.looked_everywhere(asks))
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
