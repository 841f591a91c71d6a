"""Names on paper: the patient's only where policy prints it, and only letters that the fonts have."""

import io
from typing import Any

import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # publishes no types
from pypdf import PdfReader

from app.config import root
from app.records.reading import NAMES
from app.reports.names_read import _HAS, NameShown, all_names_shown, names_shown
from app.reports.record import record_page, render_record
from tests.factories.answers import answers
from tests.reports import told

PATIENT_NAME, _ = NAMES
FONTS = [root() / "static" / "fonts" / f"hyperlegible-{weight}.woff2" for weight in ("regular", "bold")]


def record(first: str | None, second: str | None = None, *, with_name: bool = True) -> dict[str, Any]:
    story = told.Told().begun()
    story.read(*(answers(wristband={"patient_name": name}) for name in (first, second)))
    return story.finished().document(with_name=with_name)


def page(document: dict[str, Any]) -> str:
    return " ".join(
        record_page(document, digest=told.digest_of(document), signatures=told.signed(document)).split()
    )


@pytest.mark.parametrize("font", FONTS, ids=lambda path: str(path.stem))
def test_the_fonts_have_every_sign_that_is_sent_to_them(font: object) -> None:
    drawn = set(TTFont(font).getBestCmap())

    assert [hex(code) for first, last in _HAS for code in range(first, last + 1) if code not in drawn] == []


def test_what_both_read_stands_once_and_what_one_read_with_who_did() -> None:
    both = names_shown(
        {"A": {"wristband": {"patient_name": "Bo"}}, "B": {"wristband": {"patient_name": "Bo"}}},
        *PATIENT_NAME,
    )
    one = names_shown({"A": {"wristband": {}}, "B": {"wristband": {"patient_name": "Bo"}}}, *PATIENT_NAME)
    apart = names_shown(
        {"A": {"wristband": {"patient_name": "Al"}}, "B": {"wristband": {"patient_name": "Bo"}}},
        *PATIENT_NAME,
    )

    assert both == (NameShown(who="", name="Bo"),)
    assert one == (NameShown(who="B", name="Bo"),)
    assert apart == (NameShown(who="A", name="Al"), NameShown(who="B", name="Bo"))
    assert names_shown({"A": {}, "B": {}}, *PATIENT_NAME) == ()
    assert all_names_shown({"A": {}, "B": {}}) == {"patient_name": (), "prescriber": ()}


def test_it_is_printed_where_policy_says_and_said_to_be_compared_with_nothing() -> None:
    printed = page(record("Ana Lind", "Ana Lind"))

    assert "Name, compared with nothing" in printed
    assert printed.count("Ana Lind") == 1


def test_where_policy_leaves_it_out_it_stands_nowhere_in_the_record() -> None:
    document = record("Ana Lind", "Anna Lind", with_name=False)

    assert "Lind" not in str(document)
    assert "Lind" not in page(document)
    assert "compared with nothing" not in page(document)


@pytest.mark.parametrize("name", ["Ольга Шевченко", "王小明", "محمد رضا"], ids=ascii)
def test_a_script_that_the_fonts_lack_is_said_and_stands_in_the_data(name: str) -> None:
    document = record(name, name)

    assert name not in page(document)
    assert "in a script that these pages cannot show: it stands in the attached data" in page(document)
    assert name in str(document)


def test_markup_in_a_name_stays_text_and_the_pages_are_made() -> None:
    document = record("<b>Ana</b>", "&lt;")

    assert "&lt;b&gt;Ana&lt;/b&gt;" in page(document)
    assert render_record(
        document, digest=told.digest_of(document), signatures=told.signed(document)
    ).startswith(b"%PDF-")


def test_number_prescriber_and_serial_stand_on_paper_where_they_were_read() -> None:
    read = answers(
        order={"order_number": "RX 20-417", "prescriber": "Dr Ada Quill"}, device={"device_serial": "SN-0042"}
    )
    document = told.Told().begun().read(read).finished().document(with_name=False)
    shown = page(document)

    made = render_record(document, digest=told.digest_of(document), signatures=told.signed(document))
    assert len(PdfReader(io.BytesIO(made)).pages) == 2
    assert "Prescriber on the order, compared with nothing: <bdi class=" in shown
    for each in ("RX 20-417", "Dr Ada Quill", "SN-0042", "Order number", "Device serial number"):
        assert shown.count(each) == 1


def test_what_was_not_read_has_no_place_on_paper() -> None:
    shown = page(told.Told().begun().read(answers()).finished().document())

    for each in ("Prescriber", "Order number", "Serial number"):
        assert each not in shown
