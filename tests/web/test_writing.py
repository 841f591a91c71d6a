"""How a day and a number are written on the reading pages, and what is said of what cannot be."""

import pytest

from tests.support.browser import Browser, Page, words_of
from tests.support.world import World


def to_source(browser: Browser, check: str, source: str) -> Page:
    """Open one source."""
    return browser.get(f"/check/{check}/read/{source}")


@pytest.mark.parametrize("written", ["9 4 1961", "09/04/1961", "09041961", "1961-04-09", "9 Apr 1961"])
def test_a_birth_date_is_written_as_people_write_it_and_kept_as_one_day(world: World, written: str) -> None:
    browser, _, check = world.pair()
    page = to_source(browser, check, "wristband")
    assert "Day month year. The month may be a word." in page.text
    assert page.with_id("field-birth_date").get("data-date-order") == "day-month-year"

    browser.press("Keep, and", identifier="DM-40417", birth_date=written)

    assert 'value="9 April 1961"' in to_source(browser, check, "wristband").body
    assert "9 April 1961" in browser.get(f"/check/{check}/read").text
    # What stands there is read again as the same day.
    to_source(browser, check, "wristband")
    browser.press("Keep, and")
    assert "9 April 1961" in browser.get(f"/check/{check}/read").text


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("4/19/1961", "There is no such month. A date in digits is written day month year here."),
        ("9/4/61", "Write all four digits of the year."),
        ("31 4 1961", "There is no such day in April."),
        ("9 4 2041", "This day has not come yet."),
        ("9 4 1881", "Nobody is as old as this."),
        ("9 4 2020", "This tool is for adults only"),
    ],
)
def test_a_birth_date_that_cannot_be_is_refused_in_words_beside_it(
    world: World, written: str, says: str
) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, "wristband")

    page = browser.press("Keep, and", birth_date=written)

    assert page.status == 422
    assert says in words_of(page.with_id("fault-birth_date"))
    assert page.with_id("field-birth_date").get("value") == written


def test_of_a_range_it_is_said_beside_the_field_that_it_cannot_be_set(world: World) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, "device")

    page = browser.press("Keep, and", lockout="6-8", lockout_unit="min")

    assert page.status == 422
    assert "A range cannot be set." in words_of(page.with_id("fault-lockout"))
    assert page.with_id("field-lockout").get("value") == "6-8"
