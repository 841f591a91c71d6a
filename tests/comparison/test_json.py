"""What is no JSON, or no case; text, bytes and object are read alike."""

import json

import pytest

from app.comparison import CaseError, read_case
from app.comparison.documents import load
from tests.comparison.builders import case_with

BAD_JSON = [
    "",
    "{",
    "{} {}",
    '{"format": "countersign.case/2", "format": "countersign.case/2"}',
    '{"entries": [{"order": {"drug": "a", "drug": "a"}}]}',
    '{"format": NaN}',
    "[Infinity, -Infinity]",
    "\ufeff{}",
    "[" * 100_000,
    "'format'",
]


@pytest.mark.parametrize("text", BAD_JSON, ids=range(len(BAD_JSON)))
def test_bad_json(text: str) -> None:
    expected = CaseError(
        path="case", code="bad-json", message="This is no JSON text, or a key stands in it twice."
    )
    assert read_case(text) == expected
    assert read_case(text.encode()) == expected


def test_bytes_that_are_no_text() -> None:
    refused = read_case(b'{"format": "\xff"}')
    assert isinstance(refused, CaseError)
    assert refused.code == "bad-json"


@pytest.mark.parametrize("text", ["[]", "5", "null", '"x"', "1e999", "9" * 5000, "0.1"])
def test_json_that_is_no_object(text: str) -> None:
    refused = read_case(text)
    assert refused == CaseError(path="case", code="wrong-type", message="An object is expected here.")


def test_text_bytes_and_object_are_one_case() -> None:
    case = case_with({"library.morphine.concentrations": ["1 mg/mL"]})
    text = json.dumps(case)
    assert read_case(text) == read_case(text.encode()) == read_case(case)


def test_an_error_says_where_and_how() -> None:
    refused = read_case(case_with({"A.order.demand_dose": ".2 mg"}))
    assert isinstance(refused, CaseError)
    assert refused.as_json() == {
        "path": "entries[0].order.demand_dose",
        "code": "naked-decimal",
        "message": "Write a zero before the decimal point: a point alone is easily overlooked.",
    }


@pytest.mark.parametrize(("digits", "read"), [("9" * 9, 10**9 - 1), ("1" * 10, 10**9), ("1" * 5000, 10**9)])
def test_an_integer_too_long_for_any_case_is_out_of_every_range(digits: str, read: int) -> None:
    assert load(digits) == read
