"""What is changed of the settings in force, and by how much, to the last digit."""

from collections.abc import Mapping
from typing import Any

import pytest

from app.comparison import CaseError, read_case
from app.comparison.changed import what_changed
from tests.comparison.builders import case_with

BEFORE: dict[str, Any] = {
    "concentration": "1 mg/mL",
    "mode": "demand",
    "demand_dose": "1 mg",
    "lockout": "10 min",
    "limit": None,
    "loading_dose": None,
}
NOW = {
    "AB.device.demand_dose": "1 mg",
    "AB.device.lockout": "10 min",
    "AB.device.mode": "demand",
    "AB.device.limit": None,
    "AB.device.loading_dose": None,
}


def changed(before: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, tuple[str, str, str]]:
    case = read_case(case_with({"previous": {**BEFORE, **before}, **NOW, **now}))
    assert not isinstance(case, CaseError), case
    return {
        str(each["what"]): tuple(_exact(each[name]) for name in ("before", "now", "factor"))  # type: ignore[misc]
        for each in (one.as_json() for one in what_changed(case))
    }


def _exact(value: Any) -> str:  # noqa: ANN401  # any JSON value
    return "none" if value is None else str(value["exact"])


def test_a_demand_that_is_raised_is_more_in_each_time() -> None:
    # By hand: every 10 min from the start, 6 demands begin in 1 h, 24 in 4 h, 144 in a day.
    assert changed({}, {"AB.device.demand_dose": "1.5 mg"}) == {
        "demand_dose": ("1", "1.5", "1.5"),
        "lockout": ("10", "10", "1"),
        "hour": ("6", "9", "1.5"),
        "four_hours": ("24", "36", "1.5"),
        "day": ("144", "216", "1.5"),
    }


def test_a_lockout_that_is_lengthened_is_less_of_the_same_demand() -> None:
    # By hand: every 30 min, 2 in 1 h, 8 in 4 h, 48 in a day.
    told = changed({}, {"AB.device.lockout": "30 min"})

    assert told["lockout"] == ("10", "30", "3")
    assert told["demand_dose"] == ("1", "1", "1")
    assert told["day"] == ("144", "48", "1/3")


def test_a_continuous_part_that_is_taken_away_has_no_ratio() -> None:
    # By hand: 6 mg of demands and 0.5 mg in the first hour.
    told = changed({"mode": "demand-and-continuous", "continuous_rate": "0.5 mg/h"}, {})

    assert told["continuous_rate"] == ("0.5", "none", "none")
    assert told["hour"] == ("6.5", "6", "12/13")


def test_one_that_is_new_has_none_either() -> None:
    told = changed({}, {"AB.device.mode": "demand-and-continuous", "AB.device.continuous_rate": "0.5 mg/h"})

    assert told["continuous_rate"] == ("none", "0.5", "none")


def test_a_device_that_takes_volumes_is_taken_by_the_label() -> None:
    # The label is 1 mg/mL.
    told = changed({"demand_dose": "0.5 mL", "concentration": None}, {})

    assert told["demand_dose"] == ("0.5", "1", "2")


@pytest.mark.parametrize("before", [{"mode": None}, {"lockout": None}])
def test_of_what_was_not_known_nothing_is_said_but_what_is_set_now(before: dict[str, Any]) -> None:
    assert changed(before, {})["day"] == ("none", "144", "none")
