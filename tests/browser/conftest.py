"""A fresh demonstration for each test, and devices that nobody has used before."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright

from app.cli import demo_site
from app.cli.demo_site import demonstration
from app.workflow.enrolling import enrol
from tests.browser.beforehand import Beforehand
from tests.browser.devices import launch
from tests.browser.ward import Scene, Ward, read_scene
from tests.factories.enrolled import QUICK


@pytest.fixture(scope="package")
def playwright() -> Iterator[Playwright]:
    """The driver; it ends before the tests of another folder, so that no loop of its own stays behind."""
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="package")
def browser(playwright: Playwright) -> Iterator[Browser]:
    """One browser for all; each device is a context of its own."""
    started = launch(playwright.chromium)
    yield started
    started.close()


@pytest.fixture(scope="package")
def browser_that_keeps_left_pages(playwright: Playwright) -> Iterator[Browser]:
    """A browser as people have it: a left page is kept in memory for whoever goes back."""
    started = launch(playwright.chromium, keeps_left_pages=True)
    yield started
    started.close()


Opener = Callable[[Browser], Ward]


@pytest.fixture
def open_ward(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opener]:
    """Open a ward over any browser; at its end no device has complained of anything."""
    monkeypatch.setattr(demo_site, "enrol", partial(enrol, tools=QUICK))
    with ExitStack() as stack:
        wards: list[Ward] = []

        def opened(over: Browser) -> Ward:
            folder = tmp_path / "demonstration"
            folder.mkdir()
            running = stack.enter_context(demonstration(folder, port=0))
            wards.append(Ward(running=running, browser=over, stack=stack))
            return wards[-1]

        yield opened
        complaints = [each for ward in wards for one in ward.devices for each in one.complaints]
    assert complaints == []


@pytest.fixture
def ward(open_ward: Opener, browser: Browser) -> Ward:
    """A ward whose devices have an ordinary browser."""
    return open_ward(browser)


@pytest.fixture
def scene() -> Scene:
    """What there is to read."""
    return read_scene()


@pytest.fixture
def beforehand(ward: Ward, scene: Scene) -> Beforehand:
    """What has happened before the test begins."""
    return Beforehand(running=ward.running, scene=scene)
