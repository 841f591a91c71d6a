"""What was checked on paper is closed to the two who check it blind: two worlds that differ by it."""

from collections.abc import Callable, Mapping

import pytest

from app.base import Act
from app.site.loading import load_infusion
from app.workflow import transcribing
from tests.factories.answers import answers
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair
from tests.support.browser import Browser
from tests.support.observers import Scene, assert_same, looked_and_pressed, looked_everywhere
from tests.support.world import UNIT, World

BED = "14"
# Names are typed too, and may hold anything.
SHEETS = (
    {"first": "Nadia", "second": "Tomas", "rows": (("device", "demand_dose", "0.2 mg", ""),)},
    {
        "first": "Nadia: 7.3719 mg",
        "second": "T" * 110,
        "rows": (("device", "demand_dose", "0.2 mg", "2 mg"), ("order", "drug", "morphine" * 9, "")),
    },
)


def types(world: World, infusion: str, said: Mapping[str, object], acts: tuple[Act, Act]) -> None:
    """One types the sheets in, and another confirms it."""
    by, confirms = acts
    sheets = transcribing.Sheets(checked_at="11:30", **said)  # type: ignore[arg-type]  # as above
    assert transcribing.type_in(world.site, by, infusion, sheets) == transcribing.TypedIn()
    with world.site.store.read() as reader:
        typed = load_infusion(reader, infusion).transcriptions[-1].position
    held = transcribing.hold_beside(world.site, confirms, infusion, transcription=typed, same=True)
    assert held == transcribing.Held()


def unchecked(world: World) -> tuple[Pair, Browser, Browser, str]:
    """An infusion runs without a check; the two who will check it, and two others."""
    first, second = world.at(FIRST_NURSE), world.at(SECOND_NURSE)
    others = world.at("i.bexley", UNIT), world.at("r.calloway")
    first.get("/started-without-check")
    first.press("Write it down", unit=UNIT, bed=BED, reason="the program was down")
    with world.site.store.read() as reader:
        (kept,) = reader.infusions_at(UNIT, BED)
    return Pair(world=world, first=first, second=second, bed=BED), *others, kept.id


def open_blind(pair: Pair) -> None:
    """The two have joined the blind check that is due."""
    pair.first.get("/")
    pair.first.press("Open the check that is due")
    form, _ = pair.first.page.form_with("Make another code")
    pair.check = form.action.split("/")[2]
    pair.world.join(pair.second, pair.check)


def before_they_joined(world: World, said: Mapping[str, object]) -> Scene:
    """It was typed in and confirmed, and then the blind check was opened."""
    pair, typist, charge, infusion = unchecked(world)
    types(world, infusion, said, (pair.act(typist), pair.act(charge)))
    open_blind(pair)
    return Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second})


def while_they_read(world: World, said: Mapping[str, object]) -> Scene:
    """The blind check is open, and one has handed in."""
    pair, typist, charge, infusion = unchecked(world)
    open_blind(pair)
    pair.hand_in(pair.first, answers())
    types(world, infusion, said, (pair.act(typist), pair.act(charge)))
    return Scene(pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second})


@pytest.mark.timeout(900)
@pytest.mark.parametrize("begun", [before_they_joined, while_they_read])
def test_the_two_cannot_tell_what_paper_said(
    worlds: Callable[[], World], begun: Callable[[World, Mapping[str, object]], Scene]
) -> None:
    answered = []
    for said in SHEETS:
        scene = begun(worlds(), said)
        answered.append(looked_and_pressed(scene))
    assert_same(*answered)
    assert any(b"CHECKED ON PAPER" in each.body for each in answered[0])


def test_whoever_does_not_read_there_can(worlds: Callable[[], World]) -> None:
    """The twin that must fail."""
    answered = []
    for said in SHEETS:
        world = worlds()
        scene = before_they_joined(world, said)
        charge = world.at("r.calloway")
        observers = {FIRST_NURSE: charge, SECOND_NURSE: charge}
        answered.append(looked_everywhere(Scene(pair=scene.pair, observers=observers)))
    with pytest.raises(AssertionError, match="can tell the worlds apart"):
        assert_same(*answered)
