"""My infusions on the page: handed over bed by bed in one sign-in, and covered during a break."""

import pytest

from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import Pair, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World


@pytest.fixture
def pair(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def my_infusions(browser: Browser) -> Page:
    browser.get("/")
    return browser.follow("My infusions: hand over, or go on a break")


def test_from_bed_to_bed_it_is_handed_over(pair: Pair) -> None:
    page = my_infusions(pair.first)
    assert "bed 12 Running" in main_of(page)

    page = pair.first.press("Hand over")
    assert page.path.endswith("/read/totals"), page.path
    check = page.path.split("/")[2]
    assert page.heading == "Device totals"
    page = my_infusions(pair.first)
    assert "Handoff is open here" in main_of(page)
    assert pair.first.follow("Go on").path == f"/check/{check}/read/totals"
    # What is handed in leads to the next bed, in the same sign-in.
    pair.check = check
    pair.hand_in(pair.first, answers())
    pair.page(pair.first, "/waiting")
    assert pair.first.follow("My other infusions: hand over the next one").path == "/my-infusions"


def test_whoever_does_not_answer_for_it_is_told_who_does(pair: Pair) -> None:
    pair.second.get("/")
    page = pair.second.press("Handoff")

    assert (page.status, page.heading) == (409, "Nadia Ferrow answers for this infusion")
    page = pair.second.press("Nadia Ferrow has left")
    assert page.heading == "Give this code to your colleague"
    check = page.links()["Begin my reading"].split("/")[2]
    pair.first.get(f"/check/{check}/join")
    page = pair.first.press("Join and read alone")
    assert (page.status, "You answer for this infusion already" in page.text) == (409, True)


def test_a_break_is_covered_in_two_taps_and_shown_to_both(pair: Pair) -> None:
    page = my_infusions(pair.first)
    page = pair.first.press("I go on a break")
    assert (page.status, "Choose who covers." in page.text) == (422, True)

    tomas = pair.world.person("t.osmund").id
    page = pair.first.press("I go on a break", covers=tomas)
    assert "by Tomas Osmund, until 2 May 2031, 13:30" in main_of(page)
    assert "I go on a break" not in page.text
    assert "for Nadia Ferrow, until" in main_of(my_infusions(pair.second))
    assert "You give no bolus" in main_of(pair.second.page)
    told = main_of(pair.second.get(f"/infusion/{pair.state.check.infusion}"))
    assert "Nadia Ferrow answers for it now; Tomas Osmund covers a break until 2 May 2031, 13:30" in told
    assert "A break was covered by Tomas Osmund, until 2 May 2031" in told

    pair.world.clock.pass_(minutes=31)
    pair.world.sign_in(pair.second, "t.osmund")
    assert "overdue" in main_of(my_infusions(pair.second))
    pair.second.get("/")
    assert "the nurse who is on a break comes back, or hands over" in main_of(pair.second.page)
    pair.world.sign_in(pair.first, "n.ferrow")
    my_infusions(pair.first)
    page = pair.first.press("I am back")
    assert "Your break is covered" not in page.text
