"""A browser that is killed keeps nothing of what was typed: there is nothing to restore it from."""

import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import BrowserContext, Playwright

from tests.browser.devices import FLAGS, Device
from tests.browser.secure import serving
from tests.browser.ward import Scene, Ward
from tests.support.chromium import whole_chromium

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIEnvironment

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_CANARY = "ZQX-7319"
# Chromium writes what it would restore at most so often: components/sessions/core, 2.5 s.
_UNTIL_WRITTEN_MS = 4_000


def careless(environ: "WSGIEnvironment", start_response: "StartResponse") -> list[bytes]:
    """A site that tells the browser to forget nothing."""
    del environ
    start_response("200 OK", [("Content-Type", "text/html")])
    return [b"<!DOCTYPE html><title>Careless</title><form><input name=lot></form><a href=#next>Next</a>"]


def _profile(playwright: Playwright, folder: Path) -> BrowserContext:
    return playwright.chromium.launch_persistent_context(
        str(folder), executable_path=whole_chromium(), args=list(FLAGS)
    )


def _kill(folder: Path) -> None:
    """End the browser at once, as a power cut does; its lock names the process."""
    process = int((folder / "SingletonLock").readlink().name.rpartition("-")[2])
    os.kill(process, signal.SIGKILL)


def _holds(folder: Path) -> bool:
    needles = (_CANARY.encode(), _CANARY.encode("utf-16-le"))
    contents = (path.read_bytes() for path in folder.rglob("*") if path.is_file())
    return any(needle in content for content in contents for needle in needles)


def test_after_a_crash_the_profile_holds_nothing_of_what_was_typed(
    playwright: Playwright, ward: Ward, scene: Scene, tmp_path: Path
) -> None:
    folder = tmp_path / "profile"
    context = _profile(playwright, folder)
    one = ward.nurse("n.ferrow", Device(context=context, page=context.pages[0]))
    one.open_check(scene.bed)
    one.begin_reading()
    one.page.locator("input[name=identifier]").press_sequentially(_CANARY)
    one.page.evaluate("location.hash = 'next'")
    one.page.wait_for_timeout(_UNTIL_WRITTEN_MS)
    _kill(folder)
    assert not _holds(folder)


def test_of_a_careless_page_it_would(playwright: Playwright, tmp_path: Path) -> None:
    # The twin: without it the one above could look in the wrong place.
    folder = tmp_path / "profile"
    with serving(careless, https=False) as address:
        context = _profile(playwright, folder)
        page = context.pages[0]
        page.goto(address)
        page.locator("input").press_sequentially(_CANARY)
        page.get_by_role("link").click()
        page.wait_for_timeout(_UNTIL_WRITTEN_MS)
        _kill(folder)
    assert _holds(folder)
