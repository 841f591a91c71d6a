"""The table of findings, row by row, with the very words that people read."""

import json
from pathlib import Path

import pytest

from app.comparison.findings import SEVERITIES
from tests.comparison import danger_rows, full_use_rows, library_rows, reading_rows, source_rows
from tests.comparison.builders import found, result_of
from tests.comparison.test_examples import schema

ROWS = {
    **reading_rows.ROWS,
    **source_rows.ROWS,
    **danger_rows.ROWS,
    **library_rows.ROWS,
    **full_use_rows.ROWS,
}
# What each row's findings say, in order. A changed sentence shows here, to be read before it is taken over.
SAID: dict[str, list[str]] = json.loads((Path(__file__).parent / "said.json").read_text())


@pytest.mark.parametrize("name", ROWS)
def test_row(name: str) -> None:
    changes, expected = ROWS[name]
    result = result_of(changes)
    assert found(result) == expected
    assert [finding.says for finding in result.findings] == SAID.get(name, [])


def test_no_sentence_is_left_over() -> None:
    assert {name for name, (_, expected) in ROWS.items() if expected} == SAID.keys()


def test_every_code_has_a_row() -> None:
    shown = {line.split()[1] for _, expected in ROWS.values() for line in expected}
    assert shown == SEVERITIES.keys()


@pytest.mark.parametrize("name", ROWS)
def test_every_result_keeps_to_the_schema(name: str) -> None:
    assert list(schema("result").iter_errors(result_of(ROWS[name][0]).as_json())) == []
