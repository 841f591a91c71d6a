"""A scanner is a keyboard that types a code and then Enter: into the line for it, and elsewhere."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from app.config import root
from tests.browser.devices import device

pytestmark = pytest.mark.browser

_LINE = """<form action="about:blank"><input id="field-scan" aria-label="Scan">
<button name="go" value="fill-in">Fill in</button>
<fieldset class="row"><input type="text" name="lot" aria-label="Lot" value="DM-123">
<input type="hidden" name="lot_scanned" value="DM-123"><p class="said">From the scan</p></fieldset>
<label><input type="radio" name="mode">Demand</label>
<button class="main" name="go" value="next">Keep</button></form>"""


@pytest.fixture(params=["with the script", "without it"])
def line(request: pytest.FixtureRequest, browser: Browser) -> Iterator[tuple[Page, bool]]:
    """The line in a form that tells which button sent it; whether the script is there."""
    with device(browser) as made:
        page, has_script = made.page, request.param == "with the script"
        page.set_content(_LINE)
        page.evaluate(
            """document.querySelector("form").addEventListener("submit", (event) => {
              event.preventDefault();
              document.title = event.submitter.value;
            })"""
        )
        if has_script:
            page.add_script_tag(path=root() / "static" / "scan.js")
            page.evaluate("handleScanner(document.querySelector('#field-scan'))")
            page.evaluate("catchScan(document.querySelector('#field-scan'))")
            page.evaluate("followChange(document.querySelector('[name=lot_scanned]'))")
        yield page, has_script


def test_enter_after_a_scan_fills_in(line: tuple[Page, bool]) -> None:
    page, has_script = line
    scan = page.get_by_label("Scan")
    scan.press_sequentially("]d210DM-123")
    scan.press("Control+BracketRight")
    scan.press_sequentially("17311200")
    scan.press("Enter")

    expect(page).to_have_title("fill-in")
    expect(scan).to_have_value("]d210DM-123\x1d17311200" if has_script else "]d210DM-12317311200")


def test_a_scan_that_comes_before_a_field_was_chosen_is_not_lost(line: tuple[Page, bool]) -> None:
    page, has_script = line
    for key in "x ]d210LG":
        page.keyboard.press(key)
    scan = page.get_by_label("Scan")
    expect(scan).to_have_value("]d210LG" if has_script else "")
    # The same where the keyboard is on what is chosen, not written.
    scan.fill("")
    page.get_by_label("Demand").focus()
    for key in "(10)LG":
        page.keyboard.press(key)
    expect(scan).to_have_value("(10)LG" if has_script else "")


def test_enter_elsewhere_goes_on(line: tuple[Page, bool]) -> None:
    page, has_script = line
    for label in ("Lot", "Demand"):
        page.evaluate("document.title = ''")
        page.get_by_label(label).press("Enter")
        # Without the script the server says that nothing was scanned: no one goes on by mistake.
        expect(page).to_have_title("next" if has_script else "fill-in")


def test_what_was_changed_is_no_longer_from_the_scan(line: tuple[Page, bool]) -> None:
    page, has_script = line
    lot, note = page.get_by_label("Lot"), page.locator(".said")
    expect(note).to_be_visible()
    lot.fill("DM-124")
    expect(note).to_be_visible(visible=not has_script)
    lot.fill("DM-123")
    expect(note).to_be_visible()
