"""Going back: after a hand-over or a sign-out the browser shows nothing of what was typed or read."""

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import Browser, Error, expect

from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.conftest import Opener
from tests.browser.devices import Device, device
from tests.browser.people import Nurse
from tests.browser.secure import over_https, serving
from tests.browser.ward import Scene, Ward

if TYPE_CHECKING:
    from collections.abc import Iterable
    from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

with_and_without_scripts = pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])

_TRIES = 50
TYPED = ("ZQX-7319", "17.39", "INVENTED-2417")


@pytest.fixture
def ward(open_ward: Opener, browser_that_keeps_left_pages: Browser) -> Ward:
    """A ward whose browsers keep left pages in memory, as people's browsers do."""
    made = open_ward(browser_that_keeps_left_pages)
    made.signs_in_by_hand = True
    return made


def careless(environ: "WSGIEnvironment", start_response: "StartResponse") -> list[bytes]:
    """A site that guards nothing."""
    del environ
    start_response("200 OK", [("Content-Type", "text/html")])
    return [
        b"<!DOCTYPE html><title>Careless</title><label>Lot <input></label><a href=/next>Next</a>",
        b"<script>onpageshow = (event) => { window.broughtBack = event.persisted }</script>",
    ]


@pytest.mark.parametrize("https", [False, True], ids=["http", "https"])
@with_and_without_scripts
def test_this_browser_does_bring_left_pages_back(
    browser_that_keeps_left_pages: Browser, *, https: bool, scripts: bool
) -> None:
    # Without this the tests below could pass for the wrong reason.
    with (
        serving(careless, https=https) as address,
        device(browser_that_keeps_left_pages, scripts=scripts) as tablet,
    ):
        tablet.page.goto(f"{address}/reading")
        tablet.page.get_by_label("Lot").fill("ZQX-7319")
        tablet.page.evaluate("window.stillHere = true")
        tablet.page.get_by_role("link", name="Next").click()
        expect(tablet.page).to_have_url(f"{address}/next")
        history = History(tablet)
        history.go(len(history.addresses()) - 2)
        expect(tablet.page).to_have_url(f"{address}/reading")
        assert tablet.page.evaluate("window.stillHere === true")
        if scripts:
            assert tablet.page.evaluate("window.broughtBack") is True
        assert tablet.page.get_by_label("Lot").input_value() == "ZQX-7319"


class History:
    """The browser's own history of a tab; Playwright's way back would wait for a load that does not come."""

    def __init__(self, tablet: Device) -> None:
        """Ask the browser itself."""
        self._tablet = tablet

    def addresses(self) -> list[str]:
        """Every address in it, the oldest first."""
        return [each["url"] for each in self._told()["entries"]]

    def go(self, place: int) -> None:
        """Go to a place in it, as the back button does."""
        entry = self._told()["entries"][place]
        self._ask("Page.navigateToHistoryEntry", {"entryId": entry["id"]})
        while self._told()["currentIndex"] != place:
            self._tablet.page.wait_for_timeout(20)

    def _told(self) -> dict[str, Any]:
        return self._ask("Page.getNavigationHistory", {})

    def _ask(self, what: str, said: dict[str, Any]) -> dict[str, Any]:
        for _ in range(_TRIES):
            line = self._tablet.context.new_cdp_session(self._tablet.page)
            try:
                answer: dict[str, Any] = line.send(what, said)
            except Error:
                # A page that was brought back is just taking the place of another.
                self._tablet.page.wait_for_timeout(20)
            else:
                return answer
            finally:
                line.detach()
        message = f"the browser does not answer {what}"
        raise AssertionError(message)


def _in_the_middle_of_reading(ward: Ward, scene: Scene, *, scripts: bool = True) -> Nurse:
    one = ward.nurse("n.ferrow", ward.device(scripts=scripts))
    one.open_check(scene.bed)
    one.begin_reading()
    one.read_source(scene.quiet["wristband"])
    one.read_source(scene.quiet["chart"])
    one.read_source(scene.quiet["order"])
    one.read_source({**scene.quiet["label"], "lot": "ZQX-7319"})
    one.write_source({**scene.quiet["device"], "lockout": "17.39 min"})
    return one


def _shows_nothing_however_far_back(one: Nurse, *, scripts: bool = True) -> None:
    history = History(one.device)
    addresses = history.addresses()
    # The pages on which it was typed are among them.
    assert sum("/read/" in each for each in addresses) >= 5, addresses
    for place in reversed(range(1, len(addresses) - 1)):
        history.go(place)
        # Whatever comes back, from memory or the server, is nobody's page. Without scripts the browser asks,
        # where the answer to a form stood, whether to send the form again, on a page of its own.
        at_sign_in = r"/sign-in(\?then=[^&]*)?$"
        expect(one.page).to_have_url(re.compile(at_sign_in if scripts else f"{at_sign_in}|^chrome-error:"))
        seen = one.device.look()
        written = one.page.locator("input").evaluate_all("fields => fields.map((field) => field.value)")
        for each in TYPED:
            assert each not in seen.content, seen.url
            assert each not in written, seen.url


def test_after_signing_out(ward: Ward, scene: Scene) -> None:
    one = _in_the_middle_of_reading(ward, scene)
    one.sign_out()
    _shows_nothing_however_far_back(one)


def test_after_handing_over(ward: Ward, scene: Scene) -> None:
    one = ward.nurse("n.ferrow")
    one.open_check(scene.bed)
    one.begin_reading()
    one.read({**scene.quiet, "label": {**scene.quiet["label"], "lot": "ZQX-7319"}})
    one.hand_in_and_hand_over()
    _shows_nothing_however_far_back(one)


@with_and_without_scripts
def test_over_https_not_even_without_scripts(ward: Ward, scene: Scene, *, scripts: bool) -> None:
    with over_https(ward.running) as running:
        over = replace(ward, running=running)
        one = _in_the_middle_of_reading(over, scene, scripts=scripts)
        if scripts:
            one.sign_out()
        else:
            # The lock itself: handed in, and the device handed over.
            one.press("Keep, and go on: Monitor")
            one.read({**scene.quiet})
            one.hand_in_and_hand_over()
        _shows_nothing_however_far_back(one, scripts=scripts)


def unguarded(application: "WSGIApplication") -> "WSGIApplication":
    """The same site, but for the headers that keep its pages out of the browser's memory."""

    def answer(environ: "WSGIEnvironment", start_response: "StartResponse") -> "Iterable[bytes]":
        def start(status: str, headers: list[tuple[str, str]], *more: Any) -> Any:  # noqa: ANN401  # as in WSGI
            kept = [each for each in headers if each[0] not in ("Cache-Control", "Clear-Site-Data")]
            return start_response(status, kept, *more)

        return application(environ, start)

    return answer


def test_without_its_headers_the_site_itself_would_come_back(ward: Ward, scene: Scene) -> None:
    # The twin: it is our own pages that this browser would keep, and our own headers that hold it off.
    with over_https(ward.running, around=unguarded) as running:
        one = _in_the_middle_of_reading(replace(ward, running=running), scene, scripts=False)
        one.sign_out()
        history = History(one.device)
        history.go(len(history.addresses()) - 2)
        expect(one.page.locator("input[name=lockout]")).to_have_value("17.39")


def test_when_the_colleague_has_signed_in(ward: Ward, scene: Scene) -> None:
    tablet = ward.device()
    one = ward.nurse("n.ferrow", tablet)
    one.open_check(scene.bed)
    one.begin_reading()
    one.read({**scene.quiet, "label": {**scene.quiet["label"], "lot": "ZQX-7319"}})
    one.hand_in_and_hand_over()
    history = History(tablet)
    firsts = len(history.addresses())
    other = ward.nurse("t.osmund", tablet)
    other.join_from_the_list(scene.place)
    for place in reversed(range(1, len(history.addresses()) - 1)):
        history.go(place)
        expect(other.heading).to_have_text(re.compile(r"\S"))
        seen = tablet.look()
        for each in (*TYPED, "Nadia Ferrow, "):
            assert each not in seen.content, (place < firsts, seen.url)


def _at_the_wristband(ward: Ward, scene: Scene, beforehand: Beforehand, tablet: Device) -> Nurse:
    beforehand.at_stage(Phase.READING)
    ward.signs_in_by_hand = False
    one = ward.nurse("n.ferrow", tablet)
    one.look_at_check(scene.place)
    one.write_source(scene.quiet["wristband"])
    return one


def test_a_left_page_is_emptied_before_it_is_kept(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    # The browser keeps the page as it was when it was left: by then nothing stands in it.
    one = _at_the_wristband(ward, scene, beforehand, ward.device())
    assert one.page.get_by_role("textbox").first.is_visible()
    one.page.evaluate("window.dispatchEvent(new PageTransitionEvent('pagehide', { persisted: true }))")
    assert one.words == ""
    assert one.page.locator("input").count() == 0


def test_a_page_whose_time_is_up_is_emptied(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    tablet = ward.device()
    tablet.page.clock.install()
    one = _at_the_wristband(ward, scene, beforehand, tablet)
    tablet.page.clock.fast_forward("59:30")
    one.sees("You will be signed out in less than a minute.")
    tablet.page.clock.fast_forward("01:00")
    one.sees("You were signed out.")
    assert "INVENTED-2417" not in tablet.look().content
    assert one.page.locator("input").count() == 0
