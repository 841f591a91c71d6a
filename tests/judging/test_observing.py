"""What starts the clock of observations again, and what shortens it."""

from typing import Any

import pytest

from app.judging.observing import is_at_risk, is_continuous, starts_the_clock
from app.records.known import NOTHING_KNOWN, Known

DEVICE: dict[str, Any] = {
    "mode": "demand-and-continuous",
    "concentration": "1 mg/mL",
    "demand_dose": "1 mg",
    "lockout": "10 min",
    "continuous_rate": "1 mg/h",
    "limit": {"amount": "20 mg", "window": "4 h"},
    "loading_dose": None,
}
IN_VOLUMES = DEVICE | {"demand_dose": "1 mL", "continuous_rate": "1 mL/h"}


def known(device: dict[str, Any]) -> Known:
    return Known(previous=device)


@pytest.mark.parametrize(
    ("before", "changed", "again"),
    [
        (DEVICE, {}, False),
        (DEVICE, {"demand_dose": "0.5 mg"}, False),
        (DEVICE, {"demand_dose": "1000 mcg"}, False),
        (DEVICE, {"demand_dose": "1001 mcg"}, True),
        (DEVICE, {"lockout": "15 min"}, False),
        (DEVICE, {"lockout": "8 min"}, True),
        (DEVICE, {"continuous_rate": "0.5 mg/h"}, False),
        (DEVICE, {"continuous_rate": "1.5 mg/h"}, True),
        (DEVICE, {"continuous_rate": None}, False),
        (DEVICE | {"continuous_rate": None}, {"continuous_rate": "1 mg/h"}, True),
        (DEVICE, {"concentration": "5 mg/mL"}, True),
        (DEVICE, {"limit": None}, True),
        (DEVICE, {"loading_dose": "2 mg"}, True),
        # What cannot be told apart counts.
        (DEVICE, {"demand_dose": "1 mL"}, True),
        (DEVICE, {"demand_dose": "one"}, True),
        (IN_VOLUMES, {"demand_dose": "2 mL"}, True),
        (IN_VOLUMES, {"continuous_rate": "0.5 mL/h"}, False),
    ],
)
def test_an_increase_a_new_strength_and_a_loading_dose_start_it_again(
    before: dict[str, Any], changed: dict[str, Any], *, again: bool
) -> None:
    assert starts_the_clock(known(before), known(before | changed)) is again


def test_the_first_start_starts_it() -> None:
    assert starts_the_clock(NOTHING_KNOWN, known(DEVICE))


@pytest.mark.parametrize(
    ("device", "continuous"),
    [
        (DEVICE, True),
        (DEVICE | {"mode": "demand"}, False),
        (DEVICE | {"continuous_rate": "0 mg/h"}, False),
        (DEVICE | {"continuous_rate": None}, True),
        (DEVICE | {"mode": "continuous"}, True),
        ({}, False),
    ],
)
def test_whether_a_continuous_part_is_set(device: dict[str, Any], *, continuous: bool) -> None:
    assert is_continuous(known(device)) is continuous


def test_a_reason_of_risk_is_what_the_comparison_found() -> None:
    assert is_at_risk({"findings": [{"code": "patient-at-risk"}]})
    assert is_at_risk({"findings": [{"code": "continuous-in-patient-at-risk"}]})
    assert not is_at_risk({"findings": [{"code": "expires-soon"}]})
