"""What another site has a browser ask for: nothing follows from it, and a link goes on by one more tap."""

import pytest
from werkzeug.test import TestResponse

from tests.support.browser import ORIGIN, Browser
from tests.support.world import IDLE, UNIT, World
from tests.web.test_security import every_route


def comes_from_elsewhere(
    world: World, browser: Browser, path: str, *, says: str, method: str = "GET"
) -> TestResponse:
    """What a link or a form of another site gets, as the browser sends it.

    One that says from where it comes keeps back what is strict; one that does not is too old to say it.
    """
    kept = [world.settings.session_cookie, world.settings.unit_cookie]
    if method == "POST":
        kept.append(world.settings.device_cookie)
    strict = {name: browser.client.get_cookie(name, domain="localhost") for name in kept}
    for name in strict if says != "same-site" else ():
        browser.client.delete_cookie(name, domain="localhost")
    answer = browser.client.open(
        path, method=method, base_url=ORIGIN, headers={"Sec-Fetch-Site": says} if says else {}
    )
    for name, cookie in strict.items():
        if cookie is not None and browser.client.get_cookie(name, domain="localhost") is None:
            browser.client.set_cookie(name, cookie.value, domain="localhost", secure=True)
    return answer


@pytest.mark.parametrize("says", ["cross-site", "same-site", ""])
def test_nothing_of_another_site_signs_out_or_sets_a_cookie(world: World, says: str) -> None:
    browser, _, check = world.pair()

    for asked in every_route(world, check):
        answer = comes_from_elsewhere(world, browser, asked.path, says=says, method=asked.method)
        assert answer.headers.getlist("Set-Cookie") == [], (asked.method, asked.path)
        assert "Clear-Site-Data" not in answer.headers, asked.path

    assert browser.get("/").heading == "My checks"


@pytest.mark.parametrize("says", ["cross-site", "same-site", ""])
def test_nothing_of_another_site_keeps_a_session_alive(world: World, says: str) -> None:
    browser = world.at("n.ferrow")

    for path in ("/", "/here", "/static/icon.svg"):
        world.clock.pass_(seconds=IDLE.total_seconds() / 4)
        comes_from_elsewhere(world, browser, path, says=says).close()

    world.clock.pass_(seconds=IDLE.total_seconds() / 2)
    assert browser.get("/").heading == "Sign in"


@pytest.mark.parametrize("says", ["cross-site", "same-site"])
def test_a_link_from_another_site_leads_to_its_page_by_one_more_tap(world: World, says: str) -> None:
    browser, _, check = world.pair()

    answer = comes_from_elsewhere(world, browser, f"/check/{check}/read?from=mail", says=says)
    page = browser.shows(f"/check/{check}/read", answer)

    assert answer.status_code == 200
    assert page.links()["Go on"] == f"/check/{check}/read?from=mail"
    assert browser.follow("Go on").heading == "Wristband"


def test_a_screen_that_another_sites_link_opens_first_is_known_after_that_tap(world: World) -> None:
    browser = world.browser()
    answer = comes_from_elsewhere(world, browser, "/sign-in", says="cross-site")
    assert browser.client.get_cookie(world.settings.device_cookie, domain="localhost") is None

    browser.shows("/sign-in", answer)
    browser.follow("Go on")
    browser.press("Sign in", login="n.ferrow", secret=world.secrets["n.ferrow"], unit=UNIT)

    assert browser.page.heading == "My checks"


def test_where_the_browser_does_not_say_it_whoever_is_signed_in_can_sign_in_anew(world: World) -> None:
    browser = world.at("n.ferrow")

    answer = comes_from_elsewhere(world, browser, "/", says="")
    assert answer.status_code == 303
    browser.shows("/sign-in", comes_from_elsewhere(world, browser, answer.headers["Location"], says=""))
    browser.press("Sign in", login="n.ferrow", secret=world.secrets["n.ferrow"], unit=UNIT)

    assert browser.page.heading == "My checks"
