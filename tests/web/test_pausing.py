"""A pause of the line on the pages: one tap, and the look before it runs on."""

from datetime import timedelta

import pytest

from app.records.state import Phase
from app.site.loading import load_infusion
from tests.story.pages import Pair, pair_of
from tests.story.script import Read
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World

LOOKED = {"pressure": "let-out", "sedation": "0", "respiratory_rate": "14"}
IT_SHOWS = "The device shows exactly this"


@pytest.fixture
def pair(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


def infusion_of(pair: Pair) -> str:
    return pair.state.check.infusion


def pauses(browser: Browser, why: str = "Kink in the line") -> Page:
    browser.get("/")
    browser.follow("Pause the line")
    return browser.press(why)


def resumes(browser: Browser, button: str = IT_SHOWS, **given: str) -> Page:
    browser.get("/")
    browser.follow("Let the line run on")
    return browser.press(button, **(LOOKED | given))


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def is_running(pair: Pair) -> bool:
    infusion = infusion_of(pair)
    with pair.world.site.store.read() as reader:
        return load_infusion(reader, infusion).is_running


def test_a_pause_is_one_tap_and_one_nurse_lets_the_line_run_on(pair: Pair) -> None:
    first, other = pair.first, pair.world.at("r.calloway")
    page = pauses(first)
    assert page.path == "/"
    assert "the line is paused" in main_of(page)
    assert "Pause the line" not in page.links()
    # It asks for what a check asks: beside what is in force.
    page = first.follow("Let the line run on")
    assert page.heading == "Before the line runs on"
    said = main_of(page)
    assert "by Nadia Ferrow: Kink in the line." in said
    assert "one nurse is enough; after that two look." in said
    assert "two nurses look, each" not in said
    assert [value for value in ("HYDROmorphone", "0.2 mg", "10 min") if value not in said] == []

    page = resumes(other)
    assert page.path == "/"
    assert "the line is paused" not in main_of(page)
    assert "running" in main_of(page)
    # The page that was open before the colleague's press.
    page = first.press(IT_SHOWS, **LOOKED)
    assert page.status == 409
    assert "This pause has ended: a colleague let the line run on." in page.text


def test_from_another_unit_a_pause_is_written_down_in_one_tap_too(pair: Pair) -> None:
    address = f"/infusion/{infusion_of(pair)}/pause"
    elsewhere = pair.world.at("i.bexley", "recovery")
    # The infusion's own page is not theirs.
    assert f"/infusion/{infusion_of(pair)}" not in elsewhere.get(address).links().values()
    assert elsewhere.press("Kink in the line").path == "/"
    assert "the line is paused" in main_of(pair.first.get("/"))


def test_the_infusions_own_page_offers_both(pair: Pair) -> None:
    nurse = pair.world.at("r.calloway")
    page = nurse.get(f"/infusion/{infusion_of(pair)}")
    assert "Pause the line" in page.links()
    pauses(nurse)
    page = nurse.get(f"/infusion/{infusion_of(pair)}")
    assert words_of(next(page.all("title"))) == "Infusion: the line is paused"
    assert "Let the line run on" in page.links()
    # A pharmacist looks and does neither.
    links = pair.world.at("p.varga").get(f"/infusion/{infusion_of(pair)}").links()
    assert not {"Pause the line", "Let the line run on"} & set(links)


def test_what_was_typed_is_not_lost_and_what_is_wrong_stands_beside_it(pair: Pair) -> None:
    nurse = pair.first
    pauses(nurse)
    page = resumes(nurse, pressure="none", respiratory_rate="fourteen")
    assert page.status == 422
    assert "The line was blocked: let the pressure out" in page.text
    assert page.links()["Respiratory rate"] == "#field-respiratory_rate"
    assert page.with_id("field-respiratory_rate").get("value") == "fourteen"
    assert nurse.press(IT_SHOWS, **LOOKED).path == "/"


def test_outside_the_protocol_the_page_says_what_the_protocol_says(pair: Pair) -> None:
    nurse = pair.first
    pauses(nurse)
    # Nothing else need be answered.
    nurse.get("/")
    nurse.follow("Let the line run on")
    page = nurse.press(IT_SHOWS, sedation="3")
    assert page.heading == "The line does not run on: this is a stop"
    for says in ("Rouse the patient and stay.", "Give oxygen.", "Call for help:"):
        assert says in page.text
    assert "DO NOT START" in page.text
    assert not is_running(pair)
    assert "the device was stopped" in main_of(nurse.get("/"))
    assert "Sedation or breathing" in pair.page(pair.second, "").text
    # It is the author's to say that it was another bed.
    assert "Was it another bed?" in pair.page(nurse, "").links()


def test_a_device_that_shows_something_else_is_a_stop(pair: Pair) -> None:
    nurse = pair.first
    pauses(nurse)
    page = resumes(nurse, "It differs")
    assert "The device shows something else than two nurses checked." in page.text
    assert not is_running(pair)
    # Once more from the same page, it is said that it was stopped.
    page = nurse.get(f"/infusion/{infusion_of(pair)}/resume")
    assert "This infusion was stopped." in page.text
    assert "It differs" not in page.text


def test_later_two_look(pair: Pair) -> None:
    pauses(pair.first, "A walk")
    pair.world.clock.now += timedelta(minutes=31)
    first, second = pair.world.at("n.ferrow"), pair.world.at("t.osmund")
    assert "two look before it runs on." in main_of(first.get("/"))
    assert pair.page(first, "").heading == "The line is paused"
    page = resumes(first, pressure="none")
    assert page.path.endswith("/resume")
    assert "You have looked. Now a second nurse looks" in main_of(page)
    assert IT_SHOWS not in page.text
    second.get("/")
    page = second.follow("Let the line run on")
    assert "It was paused for longer than 30 min" in page.text
    assert "Nadia Ferrow has looked." in main_of(page)
    assert second.press(IT_SHOWS, **LOOKED | {"pressure": "none"}).path == "/"
    assert "the line is paused" not in main_of(second.page)


def test_pressed_twice_or_where_a_stop_stands_it_says_what_stands(pair: Pair) -> None:
    first, second = pair.first, pair.second
    for browser in (first, second):
        browser.get("/")
        browser.follow("Pause the line")
    assert first.press("A walk").path == "/"
    page = second.press("A walk")
    assert page.status == 409
    assert "The line is paused already, by Nadia Ferrow, 2 May 2031" in page.text

    pair.page(first, "/stop")
    first.press("The device was stopped")
    page = second.press("A walk")
    assert page.status == 200
    assert "If that stop was of another bed, the line is paused." in main_of(page)


def test_it_is_closed_to_the_two_who_read_there(pair: Pair) -> None:
    infusion = infusion_of(pair)
    pauses(pair.first)
    pair.re_checks()
    page = pair.first.get(f"/infusion/{infusion}/resume")
    assert "You are one of two who read here, each alone" in page.text
    assert "0.2 mg" not in page.text
    assert IT_SHOWS not in page.text


def test_what_is_not_there_is_not_found(world: World) -> None:
    nurse = world.at("n.ferrow")
    assert nurse.get("/infusion/none/resume").status == 404
    nurse.get("/infusion/none/pause")
    assert nurse.press("A walk").status == 404
    assert world.at("a.moreau").get("/infusion/none/pause").status == 403


def test_what_runs_and_was_led_to_another_check_is_paused_from_the_list_and_never_let_run_on(
    pair: Pair,
) -> None:
    """Given up, the check that found it wrong leads to a change; the device runs on meanwhile."""
    pair.re_checks()
    pair.both_hand_in(Read.SET_OTHERWISE)
    pair.compares()
    pair.abandons()
    page = pair.first.get("/")
    assert "led to a settings change" in main_of(page)
    offered = ("Open the settings change", "Handoff of what stands", "Pause the line", "Let the line run on")
    assert [words for words in offered if words in main_of(page)] == [offered[0], offered[2]]
    assert "Handoff" in main_of(page)

    page = pauses(pair.first)
    assert [words for words in offered if words in main_of(pair.first.get("/"))] == [offered[0]]
    infusion = infusion_of(pair)
    assert "it is in the unit's list" in pair.first.get(f"/infusion/{infusion}/resume").text
