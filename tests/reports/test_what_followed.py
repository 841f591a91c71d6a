"""The page of what followed a record, as people read it."""

import io
from functools import cache
from typing import Any

import pypdf
import pytest

from app.records import events
from app.records.event_kinds import KINDS
from app.records.state import Phase
from app.records.ward_events import LineLooked, LinePaused, LineResumed
from app.records.what_followed import Ending, build_what_followed, told_of
from app.reports.what_followed import render_what_followed, what_followed_page
from tests.records.test_what_followed import FROZEN, NAMES
from tests.story.events import CHECK, NADIA, RUTH, Story

LOOKED = LineLooked(
    pause="9",
    pressure="let-out",
    scale="0 to 3",
    sedation="0",
    respiratory_rate="14 /min",
    within=True,
    same=True,
)
STOPPED = events.DeviceStopped(
    stopped_at="2031-05-02T13:50+01:00", why="line-or-site", totals="23 presses, 4 mg"
)


def told() -> dict[str, Any]:
    """Looked at, started, paused, stopped at another bed, stopped for good."""
    story = Story().at_stage(Phase.STARTED)
    story.tell(LinePaused(why="kink"), by=NADIA).tell(LOOKED, by=NADIA).tell(LineResumed(pause="9"), by=NADIA)
    story.tell(STOPPED, by=RUTH).misplaced().stopped(why=events.END_OF_THERAPY)
    entries = told_of(story.entries, FROZEN)
    return build_what_followed(CHECK, FROZEN, entries, Ending.ENDED, until=99, names=NAMES)


def lapsed() -> dict[str, Any]:
    """Never started."""
    story = Story().at_stage(Phase.CLEARED).tell(events.ClearanceLapsed(why=events.ClearanceLapsed.TIME))
    return build_what_followed(
        CHECK, FROZEN, told_of(story.entries, FROZEN), Ending.LAPSED, until=99, names=NAMES
    )


@pytest.mark.parametrize(
    "says",
    [
        "The infusion has ended.",
        "This is not the record and no edition of it",
        "The site sealed it, and nobody signed it.",
        "Last look: the device shows what was agreed.",
        "Started, after a set-up.",
        "The line was paused: Kink in the line.",
        "sedation 0 (0 to 3), respiratory rate 14 /min; the device shows what is in force.",
        "The line ran on.",
        "The device was stopped: Line or site.",
        "At 2 May 2031, 13:50 (+01:00), as told. “23 presses,",
        "was written at the wrong bed, its author says.",
        "The device was stopped: End of therapy.",
    ],
)
def test_it_says(says: str) -> None:
    assert says in pages()[0]


@cache
def pages() -> list[str]:
    read = pypdf.PdfReader(io.BytesIO(render_what_followed(told(), shown=None)))
    return [" ".join(page.extract_text().split()) for page in read.pages]


def test_each_page_says_whose_it_is_what_it_follows_and_that_it_is_no_record() -> None:
    (page,) = pages()
    assert "Patient DM-40417, born 9 April 1961" in page
    assert "Ward 4 East, bed 12" in page
    assert "Follows record check-1, edition 1, digest" in page
    assert "Not the record: sealed by the site, signed by nobody." in page
    assert "Page 1 of 1" in page


def test_that_the_time_ran_out_is_said() -> None:
    page = what_followed_page(lapsed())
    assert "No longer ready to start: the site&#39;s time for starting had run out." in page
    assert "for starting had run out" not in what_followed_page(told())


def test_no_code_stands_on_it() -> None:
    codes = {*KINDS, *(each.value for each in Ending), "line-or-site", "end-of-therapy"}
    assert [each for each in codes if "-" in each and each in pages()[0]] == []
