"""Stages of a check that many tests begin at: walked to once through the pages, then copied."""

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from app.records.state import Phase
from tests.support.browser import ORIGIN, Browser, Page

_HOST = ORIGIN.removeprefix("https://")


@dataclass(frozen=True, kw_only=True)
class Seat:
    """A browser as it was left: its cookies and the page it showed."""

    cookies: tuple[tuple[str, str], ...]
    page: Page


@dataclass(frozen=True, kw_only=True)
class Stage:
    """The time, the check, and who sits where; the database lies in a file of its own."""

    database: Path
    now: datetime
    check: str
    seats: tuple[Seat, Seat]


@dataclass(kw_only=True)
class Stages:
    """The stages walked to so far, and where their databases are kept."""

    folder: Path
    kept: dict[Phase, Stage] = field(default_factory=dict)


def leave(browser: Browser, *cookies: str) -> Seat:
    """A browser as it is now, with the cookies of these names."""
    held = {name: browser.client.get_cookie(name, domain=_HOST) for name in cookies}
    return Seat(cookies=tuple((name, each.value) for name, each in held.items() if each), page=browser.page)


def sit_down(browser: Browser, seat: Seat) -> Browser:
    """Go on where a browser was left."""
    for name, value in seat.cookies:
        browser.client.set_cookie(name, value, domain=_HOST, secure=True, httponly=True)
    browser.page = seat.page
    return browser
