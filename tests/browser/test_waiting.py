"""Who waits is told by the page itself, and led on when there is something to do."""

import pytest

from app.cli.installation import now
from app.records.state import Phase
from app.workflow.comparing import compare_round
from tests.browser.beforehand import Beforehand
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_A_LOOK_MS = 1_000


def test_who_waits_is_told_and_led_on(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    beforehand.at_stage(Phase.READING).reads(beforehand.who("n.ferrow"), scene.quiet)
    path = f"/check/{beforehand.check}/waiting"
    nurse = ward.nurse("n.ferrow")
    page = nurse.page
    page.clock.install()
    nurse.go(path)
    nurse.sees("Waiting for both readings", "This page refreshes itself")

    beforehand.reads(beforehand.who("t.osmund"), scene.quiet)
    page.clock.run_for(_A_LOOK_MS)
    nurse.sees("Both handed in")
    compare_round(ward.running.site, beforehand.check, now())
    page.clock.run_for(_A_LOOK_MS)
    page.wait_for_url(f"**/check/{beforehand.check}")
    nurse.does_not_see("refreshes itself")


def test_who_waits_at_the_steps_is_led_on_when_it_is_the_own_turn(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    one, other = ward.two()
    first, second = (one, other) if beforehand.holder(1).login == one.who.login else (other, one)
    second.page.clock.install()
    for nurse in (first, second):
        nurse.look_at_check(scene.place)
        nurse.follow("Go on: safety steps")
    second.write_down(scene.baseline, scene.primed)
    second.press("what is ticked")
    second.sees("says of these steps is shown here", "This page refreshes itself")
    asked: list[int] = []
    second.page.on("response", lambda answer: asked.append(answer.status))
    second.page.clock.run_for(_A_LOOK_MS)
    second.page.wait_for_timeout(200)
    assert asked == [204], "nothing is new, and no page was loaded"

    # What the second wrote has led the first on meanwhile: she looks at the steps anew.
    first.look_at_check(scene.place)
    first.follow("Go on: safety steps")
    first.confirm_what_can_be(scene.baseline, scene.primed)
    second.page.clock.run_for(_A_LOOK_MS)
    second.sees("verified what is ticked")


def test_what_is_ticked_is_not_taken_away_by_what_the_other_does(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    one, other = ward.two()
    one.page.clock.install()
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.follow("Go on: safety steps")
    one.page.locator("[value=cover-locked]").check()
    other.confirm_what_can_be(scene.baseline, scene.primed)
    one.page.clock.run_for(_A_LOOK_MS)
    one.does_not_see("refreshes itself")
    assert one.page.locator("[value=cover-locked]").is_checked()
