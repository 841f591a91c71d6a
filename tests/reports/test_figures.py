"""The figures of the printed record: what is compared stands in one unit, lengths of time in hours."""

from typing import Any

import pytest

from app.quantities import Dimension, Quantity, parse_quantity
from app.records.kept import LETTERS
from app.reports.figures import delivered, most


def _written(text: str, dimension: Dimension) -> dict[str, str]:
    read = parse_quantity(text, dimension)
    assert isinstance(read, Quantity)
    return read.as_json()


def _result(**delivery: Any) -> dict[str, Any]:  # noqa: ANN401  # a result of the engine
    absent = dict.fromkeys(("ordered_demand", "actual_demand", "ordered_continuous", "actual_continuous"))
    device: dict[str, Any] = dict.fromkeys(
        ("demand_volume", "demands_per_hour", "full_use", "first_hour_with_loading")
    )
    device["syringe_lasts_full_use"] = _written("1470 min", Dimension.TIME)
    device["syringe_lasts_continuous"] = _written("90 min", Dimension.TIME)
    return {
        "math": {each: {"device": device} for each in LETTERS},
        "delivery": {each: {**absent, "factor": None, **delivery} for each in LETTERS},
    }


@pytest.mark.parametrize(
    ("ordered", "given", "said"),
    [("0.2 mg", "20 mcg", "0.02 mg"), ("50 mcg", "2 mg", "2,000 mcg"), ("0.2 mg", "1 mg", "1 mg")],
)
def test_what_is_given_stands_in_the_unit_of_what_is_ordered(ordered: str, given: str, said: str) -> None:
    result = _result(
        ordered_demand=_written(ordered, Dimension.MASS), actual_demand=_written(given, Dimension.MASS)
    )
    texts = {each.label: each.lines[0].text for each in delivered(result)}
    assert texts == {"Each demand gives": said, "Each demand as ordered": ordered}


def test_a_dose_without_an_order_stands_in_its_own_unit() -> None:
    result = _result(actual_demand=_written("20 mcg", Dimension.MASS))
    assert [each.lines[0].text for each in delivered(result)] == ["20 mcg"]


def test_above_two_hours_a_time_is_said_in_hours() -> None:
    assert [each.lines[0].text for each in most(_result())] == ["24.5 h", "90 min"]
