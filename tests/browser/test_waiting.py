"""Who waits for the colleague's reading is told by the page itself, and the page stays as it is."""

import pytest
from playwright.sync_api import Request

from app.cli.installation import now
from app.workflow.comparing import compare_round
from tests.browser.beforehand import Beforehand
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_A_LOOK_MS = 10_000


def test_who_waits_is_told_for_a_while(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    beforehand.joined().handed_in("n.ferrow", scene.quiet)
    path = f"/check/{beforehand.check}/waiting"
    nurse = ward.nurse("n.ferrow")
    page = nurse.page
    page.clock.install()
    nurse.go(path)
    nurse.sees("Waiting for both readings", "This page looks again by itself")
    page.evaluate("document.documentElement.dataset.same = 'yes'")

    beforehand.handed_in("t.osmund", scene.quiet)
    page.clock.run_for(_A_LOOK_MS)
    nurse.sees("Both handed in")
    compare_round(ward.running.site, beforehand.check, now())
    page.clock.run_for(_A_LOOK_MS)
    nurse.sees("Go on together")
    nurse.does_not_see("looks again by itself")
    assert page.evaluate("document.documentElement.dataset.same") == "yes"


def test_who_has_left_is_not_kept_signed_in(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    beforehand.joined().handed_in("n.ferrow", scene.quiet)
    nurse = ward.nurse("n.ferrow")
    asked: list[str] = []

    def note(request: Request) -> None:
        asked.append(request.url)

    nurse.page.clock.install()
    nurse.go(f"/check/{beforehand.check}/waiting")
    nurse.page.on("request", note)
    for _ in range(25):
        nurse.page.clock.run_for(_A_LOOK_MS)
    nurse.does_not_see("looks again by itself")
    assert len(asked) == 20
