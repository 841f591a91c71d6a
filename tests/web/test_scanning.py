"""A scan fills in what is blank on its own page, and nothing that was typed is lost.

The codes follow the GS1 General Specifications; 09501101530003 is GS1's own product number for examples.
"""

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from werkzeug.datastructures import MultiDict

from app.records.fields import FIELDS
from app.records.sources import Source
from app.web.forms.reading import FROM_THE_SCAN, Offered, read_form
from app.web.forms.scanning import FilledIn, fields_for_scan, fill_in
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World

GS = "\x1d"
LABEL = f"]d20109501101530003{GS}17311200{GS}10DM-123"
OFFERED = Offered(
    drugs=(),
    fluids=(),
    packs=(),
    levels=(),
    scale="",
    zone=ZoneInfo("Europe/Dublin"),
    today=date(2031, 5, 2),
    adult_age=18,
)


def filled(source: Source, **posted: str) -> FilledIn:
    """What comes of a scan on a page with these things on it."""
    return fill_in(source, FIELDS[source], MultiDict(posted), OFFERED)


def held(done: FilledIn) -> dict[str, str]:
    """What stands in the fields."""
    return {each.field.name: each.typed for each in done.form.inputs if each.typed}


def beside(done: FilledIn, name: str) -> str:
    """What is said beside a field."""
    return next(each.note for each in done.form.inputs if each.field.name == name)


def test_a_scan_fills_in_lot_use_by_and_code_and_says_where_they_are_from() -> None:
    done = filled(Source.LABEL, scan=LABEL)

    assert held(done) == {"lot": "DM-123", "use_by": "2031-12-31", "code": "09501101530003"}
    assert (done.scan, done.fault) == ("", "")
    assert done.filled == ("Lot", "Use by", "Code on the label")
    assert {each.field.name for each in done.form.inputs if each.note == FROM_THE_SCAN} == set(held(done))


def test_a_scan_can_fill_in_no_drug_no_strength_and_no_dose() -> None:
    fillable = {source: fields_for_scan(fields) for source, fields in FIELDS.items()}

    assert {source: names for source, names in fillable.items() if names} == {
        Source.LABEL: {"lot", "use_by", "code"},
        Source.WRISTBAND: {"identifier"},
    }
    # Net weight (310n), count (30) and price (392n) are numbers too.
    done = filled(Source.LABEL, scan=f"{LABEL}{GS}3103000030{GS}3030{GS}39221250")
    assert set(held(done)) == {"lot", "use_by", "code"}


def test_what_was_typed_stays_and_is_not_judged_yet() -> None:
    done = filled(
        Source.LABEL,
        scan=LABEL,
        lot="DM-124",
        use_by="2031-12-31",
        amount=".5",
        drug="other",
        volume_unit="mL",
    )

    assert held(done) == {
        "lot": "DM-124",
        "use_by": "2031-12-31",
        "code": "09501101530003",
        "amount": ".5",
        "drug": "other",
    }
    assert "DM-123" in beside(done, "lot")
    assert beside(done, "use_by") == "The scan says the same."
    assert done.filled == ("Code on the label",)
    assert not any(each.fault for each in done.form.inputs)
    assert done.form.wrong == ()


def test_none_is_an_answer_too() -> None:
    done = filled(Source.LABEL, scan=LABEL, lot_none="none")

    assert "lot" not in held(done)
    assert "DM-123" in beside(done, "lot")


def test_a_second_scan_replaces_what_the_first_filled_in_but_not_what_was_changed_since() -> None:
    first = filled(Source.LABEL, scan=LABEL)
    stands = held(first) | {f"{each.field.name}_scanned": each.scanned for each in first.form.inputs}

    again = filled(Source.LABEL, **{**stands, "code": "A"}, scan="]d20109501101530003172801311055")

    assert held(again) == {"lot": "55", "use_by": "2028-01-31", "code": "A"}


def test_where_a_value_is_from_is_said_as_long_as_it_stands() -> None:
    posted = {
        "lot": "DM-123",
        "lot_scanned": "DM-123",
        "code": "B",
        "code_scanned": "A",
        "use_by_scanned": "",
    }
    form = read_form(FIELDS[Source.LABEL], MultiDict(posted), OFFERED)

    assert [each.field.name for each in form.inputs if each.note or each.scanned] == ["lot"]


@pytest.mark.parametrize(
    ("source", "scan", "says"),
    [
        (Source.LABEL, "", "Scan the code first"),
        (Source.LABEL, "  ", "Scan the code first"),
        (Source.LABEL, "1" * 201, "more than 200 signs"),
        (Source.LABEL, "0109501101530004", "A digit of this code is wrong"),
        (Source.LABEL, "8018950110153000123454", "nothing of lot, use by or product"),
        (Source.WRISTBAND, LABEL, "does not say who the patient is"),
        # A pallet's number, and that of a clinician.
        (Source.WRISTBAND, "00123456789012345675", "does not say who the patient is"),
        (Source.WRISTBAND, "8017950110153000123454", "does not say who the patient is"),
        (Source.WRISTBAND, f"hel{GS}lo\x00", "not a code that can be used here"),
    ],
)
def test_a_scan_that_gives_nothing_is_kept_and_said(source: Source, scan: str, says: str) -> None:
    done = filled(source, scan=scan, birth_date="x")

    assert says in done.fault
    assert done.scan == scan.replace(GS, "\N{SYMBOL FOR GROUP SEPARATOR}").replace("\x00", "")
    assert [(each.field, each.says) for each in done.form.wrong] == [("scan", done.fault)]
    assert held(done) == ({"birth_date": "x"} if source is Source.WRISTBAND else {})


@pytest.mark.parametrize(
    ("source", "name", "typed", "refused"),
    [
        (Source.LABEL, "lot", LABEL, True),
        (Source.LABEL, "lot", "(17)311200(10)DM-123", True),
        (Source.WRISTBAND, "identifier", LABEL, True),
        # One part alone is what a label or a band may print.
        (Source.LABEL, "lot", "10LG", False),
        (Source.LABEL, "lot", "DM-123", False),
        (Source.WRISTBAND, "identifier", "8018950110153000123454", False),
        (Source.LABEL, "code", LABEL, False),
    ],
)
def test_a_whole_code_is_no_lot(source: Source, name: str, typed: str, *, refused: bool) -> None:
    form = read_form(FIELDS[source], MultiDict({name: typed}), OFFERED)

    assert [each.field for each in form.wrong] == ([name] if refused else [])
    assert form.answers == ({} if refused else {name: typed})


def test_the_wristband_s_code_fills_in_the_identifier() -> None:
    done = filled(Source.WRISTBAND, scan=f"]d28018950110153000123454{GS}80191", birth_date="1961-04-09")

    assert held(done) == {"identifier": "950110153000123454", "birth_date": "1961-04-09"}


def test_a_field_that_is_not_asked_again_is_not_filled_in() -> None:
    asked = tuple(each for each in FIELDS[Source.LABEL] if each.name == "lot")

    assert held(fill_in(Source.LABEL, asked, MultiDict({"scan": LABEL}), OFFERED)) == {"lot": "DM-123"}
    assert "nothing of lot" in fill_in(Source.LABEL, asked, MultiDict({"scan": "17311200"}), OFFERED).fault


# On the page


def _label(browser: Browser, check: str) -> Page:
    return browser.get(f"/check/{check}/read/label")


def _held(page: Page) -> dict[str, str]:
    return dict(page.form_with("Keep, and")[0].held)


def test_a_scan_on_the_page(world: World) -> None:
    browser, _, check = world.pair()
    _label(browser, check)

    # Nothing is on the server before it is kept.
    page = browser.press("Fill in", scan=LABEL, amount=".5", drug="morphine")
    assert (page.status, page.path) == (200, f"/check/{check}/read/label")
    assert (_held(page)["lot"], _held(page)["amount"], _held(page)["drug"]) == ("DM-123", ".5", "morphine")
    assert "Filled in: Lot, Use by, Code on the label." in page.text
    row = next(each for each in page.all("fieldset") if each.get("data-field") == "lot")
    assert FROM_THE_SCAN in words_of(row)
    assert "said-lot" in (row.get("aria-describedby") or "").split()
    assert "DM-123" not in _label(browser, check).body

    browser.press("Fill in", scan=LABEL)
    assert browser.press("Keep, and").path == f"/check/{check}/read/device"
    assert _held(_label(browser, check))["lot"] == "DM-123"

    # A scan that nobody used is used before one goes on; one that gives nothing keeps nobody.
    again = browser.press("Keep, and", scan="]d217300131")
    assert (again.status, again.path) == (200, f"/check/{check}/read/label")
    assert "2030-01-31" in again.text
    refused = browser.press("Fill in", scan=f"nonsense{GS}")
    assert refused.status == 422
    assert refused.links()["Scan"] == "#field-scan"
    assert refused.with_id("field-scan").get("aria-describedby") == "hint-scan fault-scan"
    assert _held(refused)["scan"] == "nonsense␝"
    assert browser.press("Keep, and").path == f"/check/{check}/read/device"


def test_enter_in_the_line_for_a_scan_fills_in_and_goes_nowhere(world: World) -> None:
    """What Enter presses is the first button of the form that sends it (HTML, implicit submission)."""
    browser, _, check = world.pair()

    for source, first in {
        "wristband": "fill-in",
        "label": "fill-in",
        "order": "next",
        "monitor": "next",
    }.items():
        page = browser.get(f"/check/{check}/read/{source}")
        form, _ = page.form_with("Keep, and")
        assert form.buttons[0].value == first
        assert ("scan" in form.names) is (first == "fill-in")
    # Where nothing can be filled in, nobody is kept by asking for it.
    form, _ = browser.get(f"/check/{check}/read/monitor").form_with("Keep, and")
    kept = browser.post(form.action, [*form.held, ("go", "fill-in"), ("scan", LABEL)])
    assert kept.path == f"/check/{check}/read"
