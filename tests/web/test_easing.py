"""What the script eases, in a real browser; that every page works without it, the other tests show."""

import threading
from collections.abc import Iterator
from urllib.parse import quote, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright
from werkzeug.serving import make_server

from tests.support.chromium import chromium
from tests.support.world import IDLE, UNIT, World, make_world

pytestmark = pytest.mark.browser

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
IDLE_MS = int(IDLE.total_seconds() * 1000)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser; each test has a profile of its own."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def served(world: World) -> Iterator[tuple[World, str]]:
    """The world in its demonstration mode, over plain http on loopback."""
    made = make_world(world.site.store, world.clock, demo=True)
    server = make_server("127.0.0.1", 0, made.app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, args=[0.02], daemon=True)
    thread.start()
    yield made, f"http://localhost:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture
def reading(served: tuple[World, str], browser: Browser) -> Iterator[Page]:
    """The label's page, open before a nurse whose browser's clock the test moves."""
    world, address = served
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.clock.install()
    page.goto("/sign-in")
    page.get_by_label("Id").fill("n.ferrow")
    page.get_by_label("Secret").fill(world.secrets["n.ferrow"])
    page.get_by_label("Unit of this shift").select_option(UNIT)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="Open a check").click()
    page.get_by_label("Bed").fill("12")
    page.get_by_role("button", name="Open the check").click()
    page.get_by_role("link", name="Begin my reading").click()
    page.goto(page.url.replace("wristband", "label"))
    yield page
    context.close()


def row(page: Page, field: str) -> str:
    """The classes of one field's row."""
    return page.locator(f"[data-field={field}]").get_attribute("class") or ""


def test_what_another_answer_does_not_ask_for_is_out_of_sight_and_what_was_written_stays(
    reading: Page,
) -> None:
    amount, concentration = (reading.locator(f"[data-field={each}]") for each in ("amount", "concentration"))
    # Before a choice no way of writing a strength is favoured.
    expect(amount).to_be_hidden()
    expect(concentration).to_be_hidden()
    reading.get_by_role("radio", name="Amount in a volume").click()
    expect(concentration).to_be_hidden()
    reading.locator("[name=amount]").fill("30")

    reading.get_by_role("radio", name="Per mL").click()
    expect(concentration).to_be_visible()
    assert "idle" in row(reading, "amount")
    assert "idle" not in row(reading, "concentration")

    expect(reading.locator("[name=amount]")).to_have_value("30")
    expect(reading.locator("[name=amount]")).to_be_editable()


def test_the_line_for_another_name_comes_when_it_is_asked_for(reading: Page) -> None:
    other = reading.get_by_label("Another name, as it is written")
    expect(other).to_be_hidden()

    reading.get_by_label("Drug", exact=True).select_option("other")
    other.fill("pethidine")
    reading.get_by_label("Drug", exact=True).select_option("morphine")

    expect(other).to_be_visible()


def test_a_choice_can_be_taken_back(reading: Page) -> None:
    reading.get_by_role("radio", name="Amount in a volume").click()
    assert "idle" in row(reading, "concentration")
    reading.get_by_role("button", name="Clear Strength is written as").click()

    expect(reading.locator("[name=strength]:checked")).to_have_count(0)
    assert "idle" in row(reading, "amount")


def test_with_keys_alone_a_choice_is_taken_back_where_it_stands(reading: Page) -> None:
    strength = reading.get_by_role("radio", name="Amount in a volume")
    strength.click()
    reading.keyboard.press("Delete")

    expect(strength).not_to_be_checked()
    expect(strength).to_be_focused()
    # In a text it takes a sign away, as everywhere.
    strength.click()
    reading.locator("[name=amount]").fill("30")
    reading.keyboard.press("Backspace")
    expect(reading.locator("[name=amount]")).to_have_value("3")


def test_the_keyboard_begins_at_the_first_field_and_comes_by_what_is_open(reading: Page) -> None:
    expect(reading.locator("[name=identifier]")).to_be_focused()
    keys = reading.keyboard
    keys.type("*0417")
    # Past *none* beside an identifier.
    keys.press("Tab")
    expect(reading.locator("[name=drug]")).to_be_focused()
    keys.press("Tab")
    keys.press("Space")
    for words in ("30", "mg", "30"):
        keys.press("Tab")
        keys.type(words.replace("mg", " "))
    # Past the concentration, which is not asked for, past the button of the scan, which Enter presses too.
    keys.press("Tab")
    expect(reading.locator("[name=scan]")).to_be_focused()
    keys.press("Tab")
    keys.type("INVENTED-7")
    # Past *none* beside a lot.
    keys.press("Tab")
    expect(reading.locator("[name=use_by]")).to_be_focused()
    keys.press("Tab")
    expect(reading.locator("[name=use_by_none]")).to_be_focused()

    # What is filled in stays in the way, asked for or not; and what is asked for again comes back.
    reading.get_by_role("radio", name="Per mL").click()
    assert reading.locator("[name=amount]").evaluate("each => each.tabIndex") == 0
    assert reading.locator("[name=concentration]").evaluate("each => each.tabIndex") == 0
    reading.locator("[name=lot]").fill("")
    assert reading.locator("[name=lot_none]").evaluate("each => each.tabIndex") == 0


def test_on_a_page_without_a_field_to_begin_at_nothing_is_pressed_by_mistake(reading: Page) -> None:
    reading.goto("/")
    expect(reading.locator("main")).to_be_focused()
    assert reading.evaluate("scrollY") == 0

    reading.keyboard.press("Enter")
    reading.keyboard.press("Tab")

    expect(reading.get_by_role("link", name="Open a check")).to_be_focused()


def test_the_wheel_changes_no_number(reading: Page) -> None:
    field = reading.locator("[name=syringe_size]")
    field.fill("30")
    field.hover()
    reading.mouse.wheel(0, -400)
    reading.mouse.wheel(0, 400)

    expect(field).to_have_value("30")


def test_a_double_press_sends_once(reading: Page) -> None:
    sent: list[str] = []
    reading.on("request", lambda each: sent.append(each.url) if each.method == "POST" else None)

    reading.get_by_role("button", name="Keep, and go on").dblclick(no_wait_after=True)
    reading.wait_for_url("**/read/device")

    assert len(sent) == 1


def test_a_press_that_led_nowhere_can_be_pressed_again(reading: Page) -> None:
    form = reading.locator("form[action$='/read/label']")
    form.evaluate("each => each.addEventListener('submit', event => event.preventDefault())")
    button = reading.get_by_role("button", name="Keep, and go on")
    button.click()
    expect(button).to_have_attribute("aria-disabled", "true")

    reading.clock.fast_forward(9000)

    expect(button).not_to_have_attribute("aria-disabled", "true")


def test_a_left_page_keeps_nothing(reading: Page) -> None:
    reading.locator("[name=syringe_size]").fill("7.3719")
    reading.evaluate("window.kept = document.querySelector('[name=syringe_size]')")

    reading.evaluate("window.dispatchEvent(new PageTransitionEvent('pagehide', {persisted: true}))")

    assert reading.evaluate("window.kept.value") == ""
    assert "Label" not in reading.inner_text("body")


def test_a_page_that_comes_back_from_memory_is_asked_for_anew(reading: Page) -> None:
    with reading.expect_navigation():
        reading.evaluate("window.dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))")

    expect(reading.get_by_role("heading", name="Label")).to_be_visible()


def test_whoever_is_away_is_warned_and_then_the_page_is_emptied(reading: Page) -> None:
    where = reading.url
    reading.clock.fast_forward(IDLE_MS - 70_000)
    expect(reading.get_by_role("alert")).to_be_hidden()
    reading.clock.run_for(20_000)
    expect(reading.get_by_role("alert")).to_contain_text("less than a minute")

    reading.clock.run_for(60_000)

    expect(reading.locator("body")).to_contain_text("You were signed out.")
    expect(reading.locator("input")).to_have_count(0)
    expect(reading.get_by_role("link", name="Sign in again")).to_have_attribute(
        "href", f"/sign-in?then={quote(urlsplit(where).path, safe='')}"
    )


def test_whoever_answers_the_warning_stays(reading: Page) -> None:
    reading.clock.fast_forward(IDLE_MS - 40_000)
    with reading.expect_response("**/here") as answer:
        reading.get_by_role("button", name="Stay signed in").click()
    assert answer.value.status == 204

    reading.clock.run_for(60_000)

    expect(reading.get_by_role("heading", name="Label")).to_be_visible()


def test_a_writing_hand_stays_signed_in_without_being_asked(reading: Page) -> None:
    with reading.expect_response("**/here"):
        reading.locator("[name=syringe_size]").fill("30")
        reading.clock.fast_forward(62_000)
        reading.clock.run_for(2_000)


def test_what_is_to_be_put_right_takes_the_focus(reading: Page) -> None:
    reading.locator("[name=syringe_size]").fill("0,5")
    reading.get_by_role("button", name="Keep, and go on").click()

    expect(reading.locator("#faults")).to_be_focused()
    expect(reading.locator("[name=syringe_size]")).to_have_value("0,5")
