"""On the printed record and in what is exported no number can be misread, and one thing has one word."""

import csv
import io
import json
from typing import Any

import pytest
from pypdf import PdfReader

from app.records.canonical import canonical
from app.reports.cells import read_back
from app.reports.export import Exported, csv_lines
from app.reports.record import record_page
from tests.reports import told
from tests.support.html import parse_html
from tests.support.numbers import strings, unsafe
from tests.support.unwanted import unwanted


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("a dose of .5 mg", "a naked decimal point"),
        ("a dose of 5.0 mg", "a trailing zero"),
        ("a rate of 0.50 mL/h", "a trailing zero"),
        ("a dose of 10mg", "no space before the unit"),
        ("30mL in the syringe", "no space before the unit"),
        ("200 µg", "a Greek letter"),
        ("200 μg", "a Greek letter"),
        ("30 cc", "cc"),
        ("1250 mcg", "thousands not set off"),
    ],
)
def test_each_way_to_be_misread_is_found(text: str, way: str) -> None:
    assert [each.partition(":")[0] for each in unsafe(text)] == [way]


@pytest.mark.parametrize(
    "text",
    [
        "0.5 mg, 1,250 mcg, 20 mL at 12:00, 2031-05-02T12:00:00.000000Z",
        "lot DM-40417, edition 1.2.0, page 2 of 3, ward 4",
    ],
)
def test_what_is_well_written_is_left_alone(text: str) -> None:
    assert list(unsafe(text)) == []


@pytest.mark.parametrize(
    "text",
    [
        "the pump runs",
        "Discrepancies",
        "your account",
        "Look again",
        "set-150-y",
        "device-differs",
        "LG-0042",
    ],
)
def test_each_word_that_has_another_in_its_place_is_found(text: str) -> None:
    assert len(list(unwanted(text))) == 1
    assert (
        list(unwanted("Set-up: the device runs, refresh, 150 cm set, findings, your login, last look")) == []
    )


@pytest.mark.parametrize("name", told.STORIES)
def test_on_the_record(name: str) -> None:
    document = told.STORIES[name]()
    pdf = PdfReader(io.BytesIO(told.printed(name)))
    for text in (words_of(document), " ".join(each.extract_text() for each in pdf.pages)):
        assert [*unsafe(text), *unwanted(text)] == []


def test_on_the_record_thousands_are_set_off_however_they_were_typed() -> None:
    typed = json.loads(canonical(told.clean()).replace(b'"6 mg"', b'"6000 mcg"'))
    assert "6000 mcg" in strings(typed)
    text = words_of(typed)
    assert "6,000 mcg" in text
    assert list(unsafe(text)) == []


def words_of(document: Any) -> str:  # noqa: ANN401  # a canonical document
    """The words of the printed page."""
    page = record_page(document, digest=told.digest_of(document), signatures=told.signed(document))
    return " ".join("".join(parse_html(page.encode()).itertext()).split())


def test_in_the_table_that_is_exported() -> None:
    content = b"".join(
        csv_lines(Exported(record=canonical(story())) for story in told.STORIES.values())
    ).decode()
    rows = [list(map(read_back, row)) for row in csv.reader(io.StringIO(content, newline=""), strict=True)]
    assert len(rows) > len(told.STORIES)
    assert [wrong for row in rows for cell in row for wrong in unsafe(cell)] == []


def test_in_the_records_that_are_exported() -> None:
    lines = [canonical(story()) for story in told.STORIES.values()]
    texts = [text for line in lines for text in strings(json.loads(line))]
    assert len(texts) > 1000
    assert [wrong for text in texts for wrong in unsafe(text)] == []
