"""The table of findings, row by row, with the very words that people read."""

import json
from pathlib import Path

import pytest

from app.comparison.findings import SEVERITIES
from tests.comparison import (
    danger_rows,
    device_rows,
    full_use_rows,
    library_rows,
    patient_rows,
    reading_rows,
    source_rows,
)
from tests.comparison.builders import ABSENT, found, result_of
from tests.comparison.test_examples import schema

ROWS = {
    **reading_rows.ROWS,
    **source_rows.ROWS,
    **danger_rows.ROWS,
    **patient_rows.ROWS,
    **device_rows.ROWS,
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


PATIENTS: list[tuple[dict[str, object], dict[str, str | None]]] = [
    ({"A.patient.identifier": "X"}, {"A.wristband": "X"}),
    ({"A.patient.identifier": None}, {"A.wristband": None}),
    ({"patient.identifier": "Y"}, {"case": "Y"}),
    ({"patient.identifier": " ", "B.patient.identifier": "X "}, {"B.wristband": "X "}),
    (
        {"A.label.patient": None, "B.chart.patient.identifier": "*0417"},
        {"A.label": "none", "B.chart": "*0417"},
    ),
]
NAMED: dict[str, str | None] = {
    f"{letter}.{source}": None if source == "chart" else "INVENTED-0417"
    for letter in "AB"
    for source in ("wristband", "chart", "order", "label")
}


@pytest.mark.parametrize("row", PATIENTS, ids=range(len(PATIENTS)))
def test_the_readings_of_who_the_patient_is(row: tuple[dict[str, object], dict[str, str | None]]) -> None:
    changes, readings = row
    [finding] = result_of(changes).findings
    assert finding.readings == {**NAMED, **readings}


def test_the_readings_of_the_chart_and_of_the_primed_volume() -> None:
    [finding] = result_of({"AB.chart.weight": ABSENT, "A.chart.sedatives": None}).findings
    assert finding.readings == {"A.chart": None, "B.chart": None}
    [weight] = result_of({"A.chart.weight": None, "B.chart.weight": "40 kg"}).findings
    assert (weight.readings, weight.fields) == ({}, ("chart.weight",))
    [primed] = result_of({"A.primed_volume": "1 mL", "B.primed_volume": "2 mL"}).findings
    assert primed.readings == {"A.device": "1 mL", "B.device": "2 mL"}


READINGS: list[tuple[dict[str, object], str, list[str | None]]] = [
    # order, label and device of A, then of B, then the record, as far as they can hold the field
    (
        {"A.order.drug": " Morphine", "B.order.drug": "x"},
        "drug",
        [" Morphine", "morphine", "morphine", "x", "morphine", "morphine"],
    ),
    (
        {"A.order.amount": None, "order_of_record.concentration": None},
        "concentration",
        [None, "50 mg/50 mL", "50 mg/50 mL", "50 mg/50 mL", "50 mg/50 mL", "50 mg/50 mL", "none"],
    ),
    ({"A.device.mode": None}, "mode", ["demand", None, "demand", "demand"]),
    (
        {
            "AB.order.continuous_rate": "0 mg/h",
            "A.device.continuous_rate": ABSENT,
            "B.device.continuous_rate": "2 mg/h",
            "order_of_record.continuous_rate": None,
        },
        "continuous_rate",
        ["0 mg/h", None, "0 mg/h", "2 mg/h", "none"],
    ),
    ({"B.device.limit": {"amount": "1 mg"}}, "limit.window", ["none", "none", "none", None]),
    (
        {"B.device.limit": ABSENT, "order_of_record.limit": None},
        "limit.amount",
        ["none", "none", "none", None, "none"],
    ),
    ({"A.device.loading_dose": ABSENT}, "loading_dose", ["none", None, "none", "none"]),
    (
        {
            "A.label.syringe_size": "50 mL",
            "B.device.syringe_size": None,
            "order_of_record.syringe_size": "5 mL",
        },
        "syringe_size",
        ["50 mL", "60 mL", "60 mL", None],
    ),
    ({"A.label.lot": "1", "B.label.lot": "2"}, "lot", ["1", "2"]),
]


@pytest.mark.parametrize("row", READINGS, ids=[field for _, field, _ in READINGS])
def test_the_readings_beside_a_finding(row: tuple[dict[str, object], str, list[str | None]]) -> None:
    changes, field, expected = row
    [finding] = [each for each in result_of(changes).findings if each.field == field and each.origin]
    assert list(finding.readings.values()) == expected
    sources = [source for source in finding.readings if source not in {"record", "case"}]
    assert sources == [f"A.{source[2:]}" for source in sources[: len(sources) // 2]] + [
        f"B.{source[2:]}" for source in sources[: len(sources) // 2]
    ]
