"""A nurse of another unit changes nothing that is not shown there, but what protects a patient."""

import pytest

from app.records.state import Phase
from tests.story.pages import Pair, pair_of
from tests.support.browser import Browser
from tests.support.observers import FIELDS, Scene, routes
from tests.support.world import World
from tests.web.test_emergencies import FOR_BREATHING, shows, taps
from tests.web.test_holding_evidence import seals

STRANGER, ELSEWHERE = "i.bexley", "recovery"

# What never waits, whoever stands at the bed: in every phase, and of what runs.
ANYBODYS = {"stopping.stop_now", "stopping.stop_unchecked_now", "stopping.had_to_start", "emergencies.note"}
ANYBODYS_WHILE_IT_RUNS = {"pausing.pause_now", "changing.lower_now"}
# They end the own time at the screen, and with it the rest of the test.
HER_OWN = {"reading.keep_typing_and_lock", "reading.keep_typing_and_sign_out"}
SAID = {
    "prescriber": "Dr Hale",
    "response": "wakes",
    "left": "26",
    "reason": "Counted.",
    "what": "itch",
    "seal": "LK 7701",
}


def written(pair: Pair, browser: Browser, path: str) -> bool:
    """Whether a form that somebody sends writes anything of the infusion or a check of it."""
    secret = pair.world.secrets[STRANGER]
    own = {"login": STRANGER, "secret": secret, "own_id": STRANGER, "own_secret": secret}
    infusion = pair.state.check.infusion
    before = entries_of(pair.world, infusion)
    browser.get("/")
    browser.post(path, [("csrf_token", browser.token()), *{**dict(FIELDS), **SAID, **own}.items()])
    return entries_of(pair.world, infusion) > before


def entries_of(world: World, infusion: str) -> int:
    with world.site.store.read() as reader:
        return len(reader.course(infusion))


def test_whoever_taps_from_another_unit_is_told_what_comes_next_and_tells_what_was_given(
    world: World,
) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    stranger, infusion = world.at(STRANGER, ELSEWHERE), pair.state.check.infusion
    stranger.get(f"/infusion/{infusion}/emergency")
    page = stranger.press(FOR_BREATHING)
    assert page.heading == "Written down: a reversal agent was given for sedation or breathing"
    assert "Clamp the line" in page.text
    # Neither where it is nor a way to a page that is not there.
    assert "bed\N{NO-BREAK SPACE}12" not in page.text
    assert "To the infusion" not in page.links()
    assert stranger.press("Write it down", dose="0.1 mg").path == "/"
    assert "Dose: 0.1 mg" in shows(pair)
    # Of what a colleague wrote down there is no page.
    theirs = taps(pair, FOR_BREATHING).path.partition("?")[0]
    assert stranger.get(theirs).status == 404


@pytest.mark.parametrize("phase", [Phase.OPENED, Phase.ESCALATED, Phase.STARTED])
def test_what_is_not_shown_there_is_not_changed_from_there(world: World, phase: Phase) -> None:
    pair = pair_of(world).at_stage(phase)
    scene = Scene(pair=pair, observers={STRANGER: world.at(STRANGER, ELSEWHERE)})
    asked = [each for each in routes(scene, "POST") if each[1].startswith(("/infusion/", "/check/"))]
    if phase is Phase.STARTED:
        for what in ("Theatre", "The key", "Suspected overdose", FOR_BREATHING):
            taps(pair, what)
        asked.append(("emergencies.tell", pair.first.page.path.partition("?")[0]))
        seals(pair)

    wrote = {
        endpoint
        for endpoint, path in asked
        if endpoint not in ANYBODYS | ANYBODYS_WHILE_IT_RUNS | HER_OWN
        and written(pair, scene.observers[STRANGER], path)
    }

    assert wrote == set()
    assert {
        endpoint
        for endpoint, path in asked
        if endpoint in ANYBODYS and written(pair, scene.observers[STRANGER], path)
    } == ANYBODYS
    if phase is Phase.STARTED:
        # On the unit the same form writes that it is received.
        path = next(path for endpoint, path in asked if endpoint == "emergencies.confirm_evidence")
        assert written(pair, world.at(STRANGER), path)
