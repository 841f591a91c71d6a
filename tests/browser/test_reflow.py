"""At 320 CSS pixels every page goes on downwards, and none sideways.

WCAG 2.2, success criterion 1.4.10: 320 CSS pixels are a window of 1,280 at a zoom of 400 %.
"""

from collections.abc import Iterable

import pytest

from app.people import Person as Account
from tests.browser.beforehand import Beforehand
from tests.browser.people import Person
from tests.browser.screens import at_bed
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

NARROW = {"width": 320, "height": 640}
OPEN_ALL = "for (const each of document.querySelectorAll('details')) each.open = true"
WIDEST = "document.documentElement.scrollWidth"


def _too_wide(person: Person, paths: Iterable[str]) -> list[str]:
    """The pages that go sideways, with everything that is folded opened."""
    person.page.set_viewport_size({"width": NARROW["width"], "height": NARROW["height"]})
    found = []
    for path in paths:
        person.go(path)
        person.page.evaluate(OPEN_ALL)
        wide = person.page.evaluate(WIDEST)
        if wide > NARROW["width"]:
            found.append(f"{path}: {wide} px")
    return found


def test_no_page_goes_sideways_at_320_pixels(ward: Ward, scene: Scene) -> None:
    checks = {
        bed: Beforehand(running=ward.running, scene=at_bed(scene, bed)) for bed in ("14", "15", "16", "17")
    }
    checks["14"].joined()
    checks["15"].joined().read(scene.wrong)
    checks["16"].ready_to_sign()
    checks["17"].cleared()
    reading, stopped, signing, cleared = (f"/check/{each.check}" for each in checks.values())
    sources = ("wristband", "chart", "order", "label", "device", "monitor")

    nurse = ward.nurse("n.ferrow")
    wide = _too_wide(
        nurse,
        (
            "/",
            "/keys",
            "/keys/secret",
            "/open",
            "/join",
            "/started-without-check",
            *(f"{reading}/read/{each}" for each in sources),
            f"{reading}/read",
            f"{reading}/danger",
            f"{reading}/stop",
            f"{reading}/stopped",
            stopped,
            f"{stopped}/help",
            f"{stopped}/abandon",
            f"{signing}/sign",
            f"{cleared}/start",
            f"{cleared}/record",
        ),
    )
    wide += _too_wide(ward.person("r.calloway"), ("/discrepancies", reading))
    wide += _too_wide(ward.person("q.lindqvist"), ("/export",))
    administrator = ward.person("a.moreau")
    person = _account(ward, "n.ferrow").id
    wide += _too_wide(administrator, ("/accounts", "/accounts/new", f"/accounts/{person}"))
    administrator.sign_out()
    wide += _too_wide(administrator, ("/sign-in", "/first-secret"))

    assert wide == []


def _account(ward: Ward, login: str) -> Account:
    with ward.running.site.store.read() as reader:
        found = reader.find_person_by_login(login)
    assert found is not None
    return found
