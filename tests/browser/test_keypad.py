"""The keypad for gloves does what the keyboard does, and is not there for whoever did not ask for it."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from app.config import root
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.devices import device
from tests.browser.ward import Ward

pytestmark = pytest.mark.browser

_ROW = """<fieldset class="row" data-field="{name}"><legend><span class="label">{name}</span></legend>
<div class="controls"><input type="text" class="number" name="{name}" aria-label="{name}" inputmode="decimal">
<span class="unit">mg</span></div></fieldset>"""
_FORM = f"""<main><form><div class="sheet">{_ROW.format(name="pressed")}{_ROW.format(name="typed")}</div>
<button class="main">Keep</button></form></main>"""
_COUNT = """document.addEventListener("input", (event) => {
  document.body.dataset[event.target.name] = Number(document.body.dataset[event.target.name] || 0) + 1;
})"""
_CHOICE = "Keypad for gloves"


@pytest.fixture
def fields(browser: Browser) -> Iterator[Page]:
    """Two fields that count what happens to them: one to press, one to type."""
    with device(browser, size=(320, 568)) as made:
        page = made.page
        page.set_content(_FORM)
        for name in ("countersign", "fields", "media"):
            page.add_style_tag(path=root() / "static" / f"{name}.css")
        page.add_script_tag(path=root() / "static" / "keypad.js")
        page.evaluate("document.querySelectorAll('form').forEach(offerKeypad)")
        page.evaluate(_COUNT)
        yield page


def press(page: Page, key: str) -> None:
    """Press one key of the keypad."""
    name = {".": "Point", "Clear": "Clear the number"}.get(key, key)
    page.get_by_role("region", name="Keypad").get_by_role("button", name=name, exact=True).click()


def strike(page: Page, key: str) -> None:
    """The same on the keyboard."""
    for each in ("Control+a", "Delete") if key == "Clear" else (key,):
        page.keyboard.press(each)


# A lower-case name moves the caret, with the keyboard in both: l left, h home, a all.
_MOVES = {"l": "ArrowLeft", "h": "Home", "a": "Control+a"}


_WAYS = (
    ["0", ".", "2"],
    ["1", ".", ".", "5", "0", "0"],
    ["1", "2", "Backspace", "Backspace", "Backspace", "7"],
    ["1", "2", "l", "5", "l", "Backspace"],
    ["1", "2", "h", "0", ".", "Backspace"],
    ["4", "2", "a", "9", "1", "a", "Backspace", "3"],
    ["5", "5", "Clear", "Clear", "8"],
)
_TOLD = "[...document.querySelectorAll('input.number')].map((each) => [each.value, each.selectionStart])"


def test_a_key_does_what_the_keyboard_does(fields: Page) -> None:
    fields.get_by_label(_CHOICE).select_option(label="Small keys")
    for keys in _WAYS:
        for name, act in (("pressed", press), ("typed", strike)):
            number = fields.get_by_label(name, exact=True)
            number.fill("")
            for key in keys:
                if key in _MOVES:
                    fields.keyboard.press(_MOVES[key])
                else:
                    act(fields, key)
            # Nobody goes on by themselves.
            expect(number).to_be_focused()
        pressed, typed = fields.evaluate(_TOLD)
        assert pressed == typed, keys
        assert pressed[0]
        heard = fields.evaluate("document.body.dataset")
        assert heard["pressed"] == heard["typed"], keys


def test_there_is_no_keypad_until_somebody_asks_for_it(fields: Page) -> None:
    keypad, number = fields.get_by_role("region", name="Keypad"), fields.get_by_label("pressed", exact=True)
    assert keypad.count() == 0
    assert fields.get_by_role("button").all_inner_texts() == ["Keep"]
    expect(number).to_have_attribute("inputmode", "decimal")

    for words, millimetres in (("Small keys", 12), ("Medium keys", 16), ("Large keys", 20)):
        fields.get_by_label(_CHOICE).select_option(label=words)
        # Where nothing was chosen to write into, nothing is written.
        if millimetres == 12:
            press(fields, "7")
        for key in keypad.get_by_role("button").all()[:12]:
            box = key.bounding_box()
            assert box is not None
            assert round(box["width"] * 25.4 / 96, 1) == round(box["height"] * 25.4 / 96, 1) == millimetres
        assert fields.evaluate("document.documentElement.scrollWidth") <= 320
    expect(number).to_have_attribute("inputmode", "none")
    assert fields.evaluate("[...document.querySelectorAll('input.number')].map((each) => each.value)") == [
        "",
        "",
    ]

    # With keys alone: the field, then the key.
    number.focus()
    keypad.get_by_role("button", name="7").focus()
    fields.keyboard.press("Enter")
    fields.keyboard.press("Space")
    expect(number).to_have_value("77")
    fields.get_by_label(_CHOICE).select_option(label="None")
    assert keypad.count() == 0
    expect(number).to_have_attribute("inputmode", "decimal")


@pytest.mark.timeout(300)
def test_a_pressed_number_is_said_and_kept_as_a_typed_one(ward: Ward, beforehand: Beforehand) -> None:
    nurse = ward.nurse("n.ferrow")
    page = nurse.page
    check = beforehand.at_stage(Phase.READING).check
    nurse.go(f"/check/{check}/read/device")
    page.get_by_label(_CHOICE).select_option(label="Large keys")
    rows = {name: page.locator(f"[data-field={name}]") for name in ("demand_dose", "loading_dose")}
    for row in rows.values():
        row.get_by_role("radio", name="mg", exact=True).check()

    rows["demand_dose"].get_by_role("textbox").focus()
    for key in ("1", "Backspace", "0", ".", "2", "5"):
        press(page, key)
    rows["loading_dose"].get_by_role("textbox").press_sequentially("0.25")

    says = "0.25 mg: zero point two five milligrams, 250 mcg"
    for row in rows.values():
        expect(row.locator(".echo")).to_have_text(says)
        row.get_by_role("textbox").hover()
        page.mouse.wheel(0, 120)
        expect(row.get_by_role("textbox")).to_have_value("0.25")

    nurse.press("Keep, and go on: Monitor")
    # The choice is kept on this device; so is what was written, on the server.
    expect(page.get_by_label(_CHOICE)).to_have_value("20")
    expect(page.get_by_role("region", name="Keypad")).to_be_visible()
    nurse.go(f"/check/{check}/read")
    for words in ("Demand dose", "Loading dose"):
        row = page.locator("div.row").filter(has=page.get_by_text(words, exact=True))
        expect(row.locator(".value")).to_have_text("0.25 mg")
