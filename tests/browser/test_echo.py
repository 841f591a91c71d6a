"""The echo beside a number: one's own number in words and in the other unit, from nothing but that field."""

from collections.abc import Iterator
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser, Page, expect

from app.config import root
from app.quantities import (
    DateOrder,
    Dimension,
    Fault,
    Quantity,
    exact,
    parse_date,
    parse_quantity,
    show_date,
    show_number,
    units_of,
)
from app.quantities.units import written_units
from app.records.field_table import TABLE
from app.records.fields import FIELDS
from app.records.sources import Form
from tests.browser.devices import device
from tests.quantities.test_dates import REFUSED

pytestmark = pytest.mark.browser

_OTHER = {
    "mg": "mcg",
    "mcg": "mg",
    "mg/h": "mcg/h",
    "mcg/h": "mg/h",
    "mg/mL": "mcg/mL",
    "mcg/mL": "mg/mL",
    "h": "min",
}
_UNIT_WORD = {
    "mg": "milligram",
    "mcg": "microgram",
    "mL": "millilitre",
    "h": "hour",
    "min": "minute",
    "s": "second",
    "kg": "kilogram",
    "": "per minute",
    "%": "per cent",
    "mmHg": "millimetre",
}
_ALL_UNITS = sorted({unit for each in TABLE for unit in each.units})


@pytest.fixture(scope="module")
def blank(browser: Browser) -> Iterator[Page]:
    """A page with nothing but the script."""
    with device(browser) as made:
        made.page.add_script_tag(path=root() / "static" / "echo.js")
        yield made.page


def _echoes(page: Page, cases: list[tuple[str, str]]) -> list[str]:
    told: list[str] = page.evaluate("cases => cases.map(([typed, unit]) => echoOf(typed, unit))", cases)
    return told


def _value(number: str, unit: str) -> Quantity | None:
    """What the program itself makes of it."""
    dimension = next(each for each in Dimension if unit in units_of(each))
    read = parse_quantity(f"{number} {unit}", dimension, zero_allowed=True)
    return read if isinstance(read, Quantity) else None


_TO_TWELVE = (
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
_SMALL = [*_TO_TWELVE, *(f"{each}teen" for each in ("thir", "four", "fif", "six", "seven", "eigh", "nine"))]
_FROM_TWENTY = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_TENS = {each: 10 * n for n, each in enumerate(_FROM_TWENTY, 2)}


def _read_aloud(words: str) -> Fraction:
    """The number that somebody who only listens would write down."""
    whole, _, decimals = words.partition(" point ")
    total = part = 0
    for each in whole.replace("-", " ").split():
        if each == "hundred":
            part *= 100
        elif each in ("thousand", "million"):
            total += part * {"thousand": 1_000, "million": 1_000_000}[each]
            part = 0
        elif each != "and":
            part += _TENS.get(each) or _SMALL.index(each)
    digits = "".join(str(_SMALL.index(each)) for each in decimals.split())
    return Fraction(total + part) + (Fraction(int(digits), 10 ** len(digits)) if digits else 0)


# What may be typed: at most nine digits, at most six decimals of which the last is no zero.
_WELL_WRITTEN = st.from_regex(r"(0|[1-9][0-9]{0,8})(\.[0-9]{0,5}[1-9])?", fullmatch=True)


@settings(max_examples=10, deadline=None)
@given(cases=st.lists(st.tuples(_WELL_WRITTEN, st.sampled_from(_ALL_UNITS)), min_size=20, max_size=20))
@example(cases=[("999999999.999999", "mg"), ("1000001", "mcg"), ("0.000001", "mcg/h"), ("1000000", "h")])
def test_two_hundred_numbers_are_said_as_the_program_reads_them(
    blank: Page, cases: list[tuple[str, str]]
) -> None:
    for (number, unit), echo in zip(cases, _echoes(blank, cases), strict=True):
        _is_said_right(number, unit, echo)


def _is_said_right(number: str, unit: str, echo: str) -> None:
    read, value = _value(number, unit), Fraction(number)
    assert read is not None
    own, _, said = echo.partition(": ")
    words, _, other = said.partition(", ")
    shown, _, shown_unit = own.partition(" ")
    assert (shown.replace(",", ""), shown_unit) == (exact(value), unit)
    assert _read_aloud(words.partition(_UNIT_WORD[unit.partition("/")[0]])[0].strip()) == value
    assert _as_the_program_shows(shown)
    if unit not in _OTHER or not value:
        return
    other_number, _, other_unit = other.partition(" ")
    assert other_unit == _OTHER[unit]
    assert _as_the_program_shows(other_number)
    factor = written_units()[unit].factor / written_units()[other_unit].factor
    assert Fraction(other_number.replace(",", "")) == value * factor


def _as_the_program_shows(number: str) -> bool:
    """The program rounds to three digits; a number of no more is written as the program writes it."""
    plain = number.replace(",", "")
    is_short = len(plain.replace(".", "").lstrip("0")) <= 3
    return exact(Fraction(plain)) == plain and (not is_short or show_number(Fraction(plain)) == number)


# The examples are our own; the way of writing is that of app/quantities.
@pytest.mark.parametrize(
    ("typed", "unit", "says"),
    [
        ("0.2", "mg", "0.2 mg: zero point two milligrams, 200 mcg"),
        ("1", "mg", "1 mg: one milligram, 1,000 mcg"),
        ("1250", "mcg", "1,250 mcg: one thousand two hundred and fifty micrograms, 1.25 mg"),
        ("4", "h", "4 h: four hours, 240 min"),
        ("240", "min", "240 min: two hundred and forty minutes, 4 h"),
        ("10", "min", "10 min: ten minutes"),
        ("0", "mg/h", "0 mg/h: zero milligrams per hour"),
        ("16", "/min", "16 /min: sixteen per minute"),
        *(
            (each, "mg", "")
            for each in (".2", "2.0", "1,5", "1,250", "02", "1e3", "-1", "2 mg", "", "٢", "1.")
        ),
        ("2", "", ""),
        ("2", "constructor", ""),
    ],
)
def test_the_echo_of_a_number(blank: Page, typed: str, unit: str, says: str) -> None:
    assert _echoes(blank, [(typed, unit)]) == [says]


def test_every_unit_that_can_be_chosen_has_words(blank: Page) -> None:
    numbers = [each for fields in FIELDS.values() for each in fields if each.form is Form.QUANTITY]
    asked = {unit for each in numbers for unit in each.units}
    assert "" not in _echoes(blank, [("2", unit) for unit in sorted(asked)])
    assert asked


_ROW = """<fieldset data-field="dose"><legend><span class="label">Dose</span></legend>
<div class="controls"><input type="text" class="number" name="dose">
<label><input type="radio" name="dose_unit" value="mg">mg</label>
<label><input type="radio" name="dose_unit" value="mcg">mcg</label></div></fieldset>"""


@pytest.fixture
def row(browser: Browser) -> Iterator[Page]:
    """One field with both scripts, and a clock that the test moves."""
    with device(browser) as made:
        made.page.clock.install()
        made.page.set_content(_ROW)
        for name in ("countersign.js", "echo.js"):
            made.page.add_script_tag(path=root() / "static" / name)
        made.page.evaluate("document.querySelectorAll('fieldset').forEach(offerClearing)")
        made.page.evaluate("document.querySelectorAll('fieldset').forEach(offerEcho)")
        yield made.page


def test_the_echo_is_quiet_while_one_writes(row: Page) -> None:
    echo, number = row.locator(".echo"), row.locator(".number")
    expect(echo).to_have_attribute("aria-live", "polite")

    row.get_by_label("mg", exact=True).check()
    number.press_sequentially("0.2")
    row.clock.run_for(500)
    expect(echo).to_have_text("")
    row.clock.run_for(200)
    expect(echo).to_have_text("0.2 mg: zero point two milligrams, 200 mcg")
    # Nothing is written into the field, and the wheel turns nothing.
    number.hover()
    row.mouse.wheel(0, 120)
    expect(number).to_have_value("0.2")
    number.press_sequentially(".")
    expect(echo).to_have_text("")
    row.clock.run_for(1000)
    expect(echo).to_have_text("")


def test_one_button_clears_a_field(row: Page) -> None:
    clear = row.get_by_role("button", name="Clear Dose")
    expect(clear).to_be_hidden()
    row.locator(".number").fill("0.2")
    expect(clear).to_be_visible()
    row.get_by_label("mg", exact=True).check()
    row.clock.run_for(700)
    expect(row.locator(".echo")).not_to_have_text("")

    clear.click()
    row.clock.run_for(700)
    expect(row.locator(".number")).to_have_value("")
    expect(row.locator(".number")).to_be_focused()
    expect(row.get_by_label("mg", exact=True)).not_to_be_checked()
    expect(row.locator(".echo")).to_have_text("")
    expect(clear).to_be_hidden()


def test_a_date_is_echoed_with_its_month_as_a_word_and_as_the_program_reads_it(blank: Page) -> None:
    written = [
        *(text for text, _, _ in REFUSED),
        *(
            "1958-11-23",
            "3/4/1958",
            "03041958",
            "19580304",
            "10101010",
            "4 4 1958",
            "23 Nov 1958",
            "Nov 23, 1958",
        ),
        *("23Nov1958", "29 2 1960", "29 2 1958", "may 3 1958", "3 ma 1958", "", " 3 4 1958 "),
    ]
    cases = [(text, order) for text in written for order in DateOrder]
    told = blank.evaluate(
        "cases => cases.map(([typed, order]) => dateEchoOf(typed, order))",
        [[text, order.value] for text, order in cases],
    )

    for (text, order), echo in zip(cases, told, strict=True):
        read = parse_date(text.strip(), order)
        assert echo == ("" if isinstance(read, Fault) else show_date(read)), (text, order)
    assert "3 April 1958" in told
    assert "4 March 1958" in told
