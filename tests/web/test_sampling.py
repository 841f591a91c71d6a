"""The pages of random samples: draw one, print its worksheet, enter what was found."""

import pytest

from app.records.state import Phase
from app.workflow import auditing_samples
from tests.story.pages import pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World

DRAWN = {"seed": "may", "first": "2031-05-02", "last": "2031-05-02", "each": "5"}


def analyst(world: World) -> Browser:
    """Quality, on the day after a check was given up."""
    pair_of(world).at_stage(Phase.ABANDONED)
    world.clock.pass_(days=1)
    return world.at("q.lindqvist")


def draw(browser: Browser, **given: str) -> Page:
    browser.get("/samples")
    return browser.press("Draw", **(DRAWN | given))


def test_a_sample_is_drawn_answered_and_corrected(world: World) -> None:
    quality = analyst(world)
    quality.get("/")
    quality.follow("Random samples of ended checks, to be audited")
    page = draw(quality)
    assert page.heading == "Sample of 2 May 2031 to 2 May 2031"
    assert "1 of 1 checks; 0 answered" in words_of(page.with_id("main"))
    sheet = quality.get(page.links()["The worksheet (PDF)"]).response
    assert sheet.mimetype == "application/pdf"

    (audited,) = [address for name, address in page.links().items() if "bed" in name]
    quality.get(audited)
    stale = quality.page.form_with("Keep what you found")[0]
    refused = quality.press("Keep what you found", answer="departs", text_said="the chart is thin")
    assert refused.status == 422
    assert "Say why: choose one at least." in refused.text
    assert "the chart is thin" in refused.text
    quality.press("Keep what you found", answer="departs", reasons="chart")
    # Another page was open all the time.
    late = quality.post(audited, [*stale.held, ("answer", "conforms")])
    assert late.status == 409
    assert "Somebody answered while you wrote" in late.text
    assert "Does not conform" in late.text
    quality.get(audited)
    shown = quality.press("Correct it", answer="conforms")
    assert "1 of 1 conform: 100 %" in words_of(shown.with_id("main"))
    assert "the range is that of other days like these" in shown.text
    assert "Conforms" in shown.text
    told = words_of(quality.get(audited).with_id("main"))
    assert told.index("Does not conform") < told.index("Conforms,")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"last": "2031-05-03"}, "This day is not over"),
        ({"last": "2031-05-01"}, "The last day lies before the first."),
        ({"first": "2031-04-01", "last": "2031-04-02"}, "No check ended on those days."),
        ({"first": "2 May"}, "Write a date as year-month-day"),
        ({"first": "0001-01-01"}, "a year from 1900 to 2999"),
        ({"each": "none"}, "Write a whole number from 1 to 50."),
        ({"seed": ""}, "Write a seed"),
    ],
)
def test_what_cannot_be_drawn_is_said_beside_its_field_and_nothing_is_lost(
    world: World, given: dict[str, str], says: str
) -> None:
    page = draw(analyst(world), **given)
    assert page.status == 422
    assert says in page.text
    shown = page.response.get_data(as_text=True)
    typed = [value for value in (DRAWN | given).values() if value]
    assert [value for value in typed if f'value="{value}"' not in shown] == []


def test_drawn_again_it_is_the_same_sample_and_a_long_one_is_shown_by_unit(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    quality = analyst(world)
    first, again = draw(quality), draw(quality)
    assert first.path == again.path
    assert "Answer the next" in again.links()

    monkeypatch.setattr(auditing_samples, "MOST_AT_ONCE", 0)
    page = quality.get(first.path)
    assert "The worksheet (PDF)" not in page.links()
    assert quality.get(f"{first.path}/worksheet.pdf").status == 404
    own = quality.get(page.links()["Checks and worksheet of Ward 4 East"])
    assert quality.get(own.links()["The worksheet (PDF)"]).response.mimetype == "application/pdf"
    assert "Over all units" not in own.text
    assert quality.get(f"{first.path}?unit=nowhere").status == 404


@pytest.mark.parametrize("login", ["r.calloway", "n.ferrow", "a.moreau"])
def test_it_is_closed_to_everybody_else(world: World, login: str) -> None:
    browser = world.at(login)
    assert {browser.get(path).status for path in ("/samples", "/samples/none", "/samples/none/none")} == {403}
