"""Devices: each a browser profile of its own, watched for complaints, remembering every page it has shown."""

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from playwright.sync_api import Browser, BrowserContext, BrowserType, ConsoleMessage, Cookie, Error, Page

from tests.support.chromium import chromium, whole_chromium

# Chromium's own sandbox does not start for root, and nothing of Google's is to be asked for anything.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
# Playwright takes the cache of left pages away by default: then no test of the back button could fail.
KEEPS_LEFT_PAGES = ("--disable-back-forward-cache",)

# The browser notes every refusal in its console, also those that a page says in words.
_REFUSED = re.compile(r"Failed to load resource: the server responded with a status of ([0-9]{3}) ")

DESKTOP = (1280, 900)
_GLANCES = 20


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A page as it was shown."""

    url: str
    title: str
    content: str


@dataclass(kw_only=True)
class Device:
    """One device with one browser profile; `page` is the tab in front."""

    context: BrowserContext
    page: Page
    complaints: list[str] = field(default_factory=list)
    shown: list[Shown] = field(default_factory=list)
    # Refusals that a nurse meets at work: a fault beside its field, or something that changed in between.
    may_be_refused: set[int] = field(default_factory=lambda: {409, 422})

    def __post_init__(self) -> None:
        self.context.on("console", self._hear)
        self.context.on("weberror", lambda each: self.complaints.append(f"thrown: {each.error.message}"))

    def look(self) -> Shown:
        """The page in front, remembered."""
        for _ in range(_GLANCES):
            self.page.wait_for_load_state()
            try:
                seen = Shown(url=self.page.url, title=self.page.title(), content=self.page.content())
            except Error:
                # It went on while one looked: a page that was brought back loads itself anew.
                continue
            self.shown.append(seen)
            return seen
        message = f"{self.page.url} does not come to rest"
        raise AssertionError(message)

    def second_tab(self, url: str) -> Page:
        """Another tab of the same profile, now in front."""
        self.page = self.context.new_page()
        self.page.goto(url)
        return self.page

    def bring(self, cookies: Iterable[Cookie]) -> None:
        """Put cookies of another device into this one, as after copying a profile or stealing a session."""
        for each in cookies:
            self.context.add_cookies(
                [
                    {
                        "name": each["name"],
                        "value": each["value"],
                        "domain": each["domain"],
                        "path": each["path"],
                        "sameSite": each["sameSite"],
                        "httpOnly": each["httpOnly"],
                    }
                ]
            )

    def _hear(self, message: ConsoleMessage) -> None:
        refused = _REFUSED.match(message.text)
        if refused and int(refused[1]) in self.may_be_refused:
            return
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.type}: {message.text} at {message.location['url']}")


def launch(kind: BrowserType, *, keeps_left_pages: bool = False) -> Browser:
    """Start the browser."""
    return kind.launch(
        # Without windows there is no cache of left pages at all.
        executable_path=whole_chromium() if keeps_left_pages else chromium(),
        args=list(FLAGS),
        ignore_default_args=list(KEEPS_LEFT_PAGES) if keeps_left_pages else None,
    )


@contextmanager
def device(
    browser: Browser, *, scripts: bool = True, size: tuple[int, int] = DESKTOP, dark: bool = False
) -> Iterator[Device]:
    """A fresh device: nothing kept from before, and nothing kept after."""
    context = browser.new_context(
        java_script_enabled=scripts,
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        service_workers="allow",
        accept_downloads=True,
        # The tests' own https has a certificate that nobody vouches for.
        ignore_https_errors=True,
    )
    context.set_default_timeout(30_000)
    try:
        yield Device(context=context, page=context.new_page())
    finally:
        context.close()


def absent(needles: Iterable[str], device: Device, *, since: int = 0) -> None:
    """No page that a device has shown, nor its address or title, has any of these in it."""
    for seen in device.shown[since:]:
        for each in needles:
            for part, text in (("address", seen.url), ("title", seen.title), ("page", seen.content)):
                assert each not in text, f"{each!r} stands in the {part} of {seen.url} ({seen.title})"
