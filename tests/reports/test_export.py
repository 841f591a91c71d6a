"""Exports: byte for byte as signed, one table by RFC 4180, no formula, nothing lost, little memory."""

import csv
import io
import json
import tracemalloc
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.comparison.result import ENGINE_VERSION
from app.config import root
from app.records.canonical import canonical
from app.records.exported_columns import COLUMNS as ENDED_COLUMNS
from app.reports.cells import guard, read_back
from app.reports.export import COLUMNS, Exported, csv_lines
from tests.reports import told


def documents() -> list[dict[str, Any]]:
    return [story() for story in told.STORIES.values()]


def table(records: list[dict[str, Any]]) -> list[dict[str, str]]:
    """The table as another program reads it, with every cell read back."""
    content = b"".join(csv_lines(Exported(record=canonical(each)) for each in records)).decode()
    rows = csv.reader(io.StringIO(content, newline=""), strict=True)
    head = next(rows)
    return [dict(zip(head, map(read_back, row), strict=True)) for row in rows]


def test_what_followed_a_record_stands_in_its_row() -> None:
    record, follows = canonical(told.clean()), b'{"ended":{"how":"stopped"}}'
    with_it = Exported(record=record, followed=follows, followed_digest="d" * 64)

    content = b"".join(csv_lines(iter([with_it]))).decode()
    (row,) = csv.DictReader(io.StringIO(content, newline=""), strict=True)
    assert (row["what_followed"], row["what_followed_digest"]) == ("stopped", "d" * 64)


def test_the_table_begins_with_its_columns_and_ends_every_line_alike() -> None:
    # RFC 4180, 2: CRLF after every record, an optional head, the same number of fields in every line.
    head = b"".join(csv_lines(iter([])))

    assert head == (",".join(f'"{name}"' for name in COLUMNS) + "\r\n").encode()
    content = b"".join(csv_lines(iter([Exported(record=canonical(told.clean()))])))
    assert content.count(b"\r\n") == content.count(b"\n") == 2
    assert not content.startswith(b"\xef\xbb\xbf")


def test_every_finding_of_every_round_has_a_row() -> None:
    records = documents()
    expected = [
        (found["says"], str(each["round"]))
        for record in records
        for each in record["rounds"]
        for found in each.get("comparison", {}).get("findings", [])
    ]

    assert [(row["says"], row["round"]) for row in table(records) if row["says"]] == expected


def test_a_record_without_a_finding_has_one_row() -> None:
    document = told.clean()
    document["rounds"][0]["comparison"]["findings"] = []
    (row,) = table([document])

    assert row["record"] == "check-1"
    assert row["clinician_b"] == "Tomas Osmund"
    assert row["steps_complete_at"] == "2031-05-02T12:27:00+00:00"
    assert {row[name] for name in ("round", "severity", "code", "says", "settled")} == {""}


def test_each_row_says_which_engine_compared_and_by_which_rules() -> None:
    record = told.clean()
    (row, *_) = table([record])

    assert row["engine"] == record["rounds"][-1]["comparison"]["engine"] == ENGINE_VERSION
    assert (row["policy"], row["library"]) == (record["versions"]["policy"], record["versions"]["library"])
    assert "" not in (row["policy"], row["library"])


def test_the_rows_of_the_syringe_that_was_five_times_too_strong() -> None:
    rows = {(row["round"], row["code"]): row for row in table([told.fivefold()])}
    wrong = rows["1", "label-differs"]

    assert wrong["severity"] == "stop"
    assert wrong["field"] == "concentration"
    # 30 mg in 30 mL is 1 mg/mL; 6 mg in 30 mL is 0.2 mg/mL (common practice, no source).
    assert wrong["factor"] == "5"
    assert (wrong["A.order"], wrong["A.label"], wrong["A.device"]) == (
        "6 mg/30 mL",
        "30 mg/30 mL",
        "6 mg/30 mL",
    )
    assert (wrong["settled"], wrong["settled_in_round"]) == ("put right", "3")
    assert (wrong["settled_at"], wrong["seconds_to_settle"]) == ("2031-05-02T12:24:00+00:00", "480")
    misread = rows["1", "readings-differ"]
    assert (misread["A.device"], misread["B.device"]) == ("10 min", "6 min")
    assert (misread["settled"], misread["settled_in_round"]) == ("read again", "2")
    assert misread["independence"] == "two screens, overlapping in time"
    assert misread["earlier_look"] == "no"


def test_the_rows_of_what_was_acknowledged_set_aside_and_not_read() -> None:
    cautions = {row["code"]: row for row in table([told.cautions()])}
    unsaid = cautions["allergy-not-recorded"]
    assert unsaid["settled"] == "acknowledged"
    assert (unsaid["reason_a"], unsaid["named_a"]) == ("prescriber-asked", "Dr Brandt")
    assert (unsaid["reason_b"], unsaid["named_b"]) == ("prescriber-asked", "Dr Brandt")
    assert cautions["patient-at-risk"]["remark_b"] == "Last dose yesterday evening, patient awake."

    excepted = {row["code"]: row for row in table([told.exception()])}["above-hard-limit"]
    assert excepted["settled"] == "exception"
    assert excepted["exception_by"] == "Ruth Calloway"
    assert excepted["exception_reason"] == "Long-term opioid treatment at home"
    assert excepted["exception_prescriber"] == "Dr Brandt"

    missing = {row["code"]: row for row in table([told.read_again()])}["reading-missing"]
    assert (missing["A.label"], missing["B.label"]) == ("2031-12-31", "(not read)")

    voided = table([told.voided()])[0]
    assert (voided["rounds"], voided["rounds_voided"]) == ("2", "1")


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        (
            {"A.wristband": "1", "B.wristband": "2", "case": "3"},
            {"A.wristband": "1", "B.wristband": "2", "on_record": "3"},
        ),
        ({"A.order": "1 mg", "record": "2 mg"}, {"A.order": "1 mg", "on_record": "2 mg"}),
        ({"A.monitor": "on", "B.chart": "yes"}, {"A.monitor": "on", "B.chart": "yes"}),
    ],
)
def test_every_reading_has_its_column(readings: dict[str, str], expected: dict[str, str]) -> None:
    document = told.clean()
    document["rounds"][0]["comparison"]["findings"][0]["readings"] = readings
    (row,) = table([document])

    assert {
        name: text for name, text in row.items() if name[1:2] == "." or name == "on_record" if text
    } == expected


# OWASP, CSV Injection: what begins a formula, by itself, after a break, and after a cell that ends early.
FORMULAS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\uff1d1",
    "\uff0b1",
    "\uff0d1",
    "\uff201",
]


@pytest.mark.parametrize("formula", FORMULAS)
@pytest.mark.parametrize(
    "before", ["", " ", "\u00a0", '"', "yes\n", "yes\r\n", "yes\r", "yes;", 'yes";"', "yes,", "a|b\t"]
)
def test_no_cell_begins_with_a_formula(before: str, formula: str) -> None:
    text = before + formula
    cell = guard(text)

    assert read_back(cell) == text
    for line in cell.replace("\r", "\n").split("\n"):
        for part in line.replace(",", ";").replace("|", ";").replace("\t", ";").split(";"):
            assert part.strip(' "\u00a0')[:1] not in set("=+-@\uff1d\uff0b\uff0d\uff20")


@pytest.mark.parametrize(
    "text", ["", "0.2 mg", "LOT-7", "It's so", "a - b", "Dr Brandt (here)", "50 mg/50 mL"]
)
def test_ordinary_text_is_left_alone(text: str) -> None:
    assert guard(text) == text


@settings(max_examples=400)
@given(
    st.text(alphabet=st.sampled_from("'=+-@\t\r\n ;,|\"\uff1da\u00a01"), max_size=12) | st.text(max_size=40)
)
def test_nothing_is_lost(text: str) -> None:
    assert read_back(guard(text)) == text


@settings(max_examples=60)
@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=40))
def test_nothing_is_lost_through_the_table(text: str) -> None:
    document = told_once()
    document["check"]["bed"] = text
    (row,) = table([document])

    assert row["bed"] == text


def told_once() -> dict[str, Any]:
    if not _TOLD:
        _TOLD.append(json.dumps(told.clean()))
    made: dict[str, Any] = json.loads(_TOLD[0])
    return made


_TOLD: list[str] = []


def test_a_long_export_takes_no_more_memory_than_a_short_one() -> None:
    one = canonical(told.fivefold())

    def many(count: int) -> Iterator[Exported]:
        for _ in range(count):
            yield Exported(record=bytes(bytearray(one)))

    def peak(count: int) -> int:
        tracemalloc.start()
        for _ in csv_lines(many(count)):
            pass
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    peak(2)

    assert peak(60) < 2 * peak(6)


def test_the_page_for_people_describes_every_column() -> None:
    page = (root() / "app" / "reports" / "EXPORT.md").read_text(encoding="utf-8")
    _, _, read = page.partition("## What was read")
    described = [line for line in read.splitlines() if line.startswith("| `")]

    assert described == [f"| `{name}` | {says} |" for name, says in COLUMNS.items()]


def test_the_page_for_people_describes_every_column_of_the_table_of_checks() -> None:
    page = (root() / "app" / "reports" / "EXPORT.md").read_text(encoding="utf-8")
    table, _, _ = page.partition("## The table")[2].partition("## De-identified")
    described = [line for line in table.splitlines() if line.startswith("| `")]

    assert described == [
        f"| `{each.name}` | {each.says} | {each.holds.value} | {each.bared.value} |" for each in ENDED_COLUMNS
    ]


def test_what_nobody_looked_at_and_why_a_patient_is_at_risk_have_columns() -> None:
    document = told.cautions()
    document["rounds"][-1]["comparison"]["not_judged"] = ["age", "weight"]
    rows = table([document])

    assert {row["not_judged"] for row in rows} == {"age, weight"}
    (at_risk,) = (row for row in rows if row["code"] == "patient-at-risk")
    assert (at_risk["group"], at_risk["reasons"]) == ("patient", "sedative")


def test_what_only_some_sites_ask_for_has_columns_for_each_of_the_two() -> None:
    document = told.clean()
    document["rounds"][-1]["readings"]["A"]["order"] |= {
        "order_number": "RX 20-417",
        "prescriber": "A. Quill",
    }
    document["rounds"][-1]["readings"]["B"]["device"]["device_serial"] = "SN-0042"
    for row in table([document]):
        assert (row["order_number_a"], row["order_number_b"]) == ("RX 20-417", "")
        assert (row["prescriber_a"], row["prescriber_b"]) == ("A. Quill", "")
        assert (row["device_serial_a"], row["device_serial_b"]) == ("", "SN-0042")
    assert {row["prescriber_a"] for row in table([told.clean()])} == {""}


def test_each_row_says_whether_the_rules_were_invented() -> None:
    own = {**told.cautions(), "invented": False}

    assert {row["invented"] for row in table([told.cautions()])} == {"yes"}
    assert {row["invented"] for row in table([own])} == {"no"}
