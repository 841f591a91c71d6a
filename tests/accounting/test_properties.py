"""What holds of every account, honest or not."""

import json
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.accounting import balance
from app.accounting.findings import SEVERITIES
from tests.accounting.builders import read
from tests.accounting.random_accounts import accounts
from tests.accounting.recounted import RECOUNTED
from tests.accounting.test_examples import schema
from tests.support.sampling import examples

# Examples by hand take every branch; watched by the coverage tool these would take three times as long.
pytestmark = pytest.mark.no_cover

GONE = ("primed", "delivered_by_device", "not_read", "wasted", "returned", "kept", "left", "difference")


def result(case: dict[str, Any]) -> dict[str, Any]:
    return balance(read(case)).as_json()


def value(figure: dict[str, str] | None) -> Fraction:
    return Fraction(0) if figure is None else Fraction(figure["exact"])


def changed(case: dict[str, Any], change: Callable[[str, str], str]) -> dict[str, Any]:
    """A case with every text changed, by its key."""
    return {key: _changed(key, value, change) for key, value in case.items()}


def _changed(key: str, value: object, change: Callable[[str, str], str]) -> object:
    if isinstance(value, list):
        return [_changed(key, each, change) for each in value]
    if isinstance(value, dict):
        return changed(value, change)
    return change(key, value) if isinstance(value, str) else value


def without_times(found: dict[str, Any]) -> str:
    """A result whose times may be others."""
    said = json.dumps(found)
    return re.sub(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{5}[+-][0-9:]{5}", "a time", said)


@settings(max_examples=examples(sample=100, whole=4000))
@given(accounts())
def test_every_millilitre_is_somewhere(case: dict[str, Any]) -> None:
    """What was loaded is the sum of all places and the difference, exactly."""
    found = result(case)
    for part in (*found["syringes"], found["infusion"]):
        for places in (part["volume"], part["amount"]):
            if places["difference"] is not None:
                assert value(places["loaded"]) == sum(value(places.get(name)) for name in GONE)
        stages = part["in_use"], part["in_hand"]
        if part["volume"]["difference"] is not None:
            difference = sum(value(stage["volume"]) for stage in stages)
            assert value(part["volume"]["difference"]) == difference
        for stage in stages:
            if stage["budget"] is not None:
                parts = [value(stage["budget"][name]) for name in list(stage["budget"])[:6]]
                assert value(stage["budget"]["worst_case"]) == sum(parts)
                assert Fraction(stage["budget"]["root_sum_square"]["square"]) == sum(
                    each**2 for each in parts
                )


@settings(max_examples=examples(sample=50, whole=2000))
@given(accounts())
def test_every_result_keeps_to_the_schemas_and_to_the_order_of_findings(case: dict[str, Any]) -> None:
    found = result(case)
    assert list(schema("account").iter_errors(case)) == []
    assert list(schema("balance").iter_errors(found)) == []
    places = [list(SEVERITIES).index(finding["code"]) for finding in found["findings"]]
    assert places == sorted(places)
    for finding in found["findings"]:
        assert finding["says"].startswith("Recount together. ") == (finding["code"] in RECOUNTED)
        assert finding["severity"] == SEVERITIES[finding["code"]]


@settings(max_examples=examples(sample=25, whole=1000))
@given(accounts(), st.integers(-3000, 3000), st.sampled_from(("+02:00", "-09:30", "+14:00")))
def test_all_times_later_or_in_another_zone_change_nothing_but_times(
    case: dict[str, Any], minutes: int, zone: str
) -> None:
    def moved(key: str, typed: str) -> str:
        if key != "at":
            return typed
        local = datetime.fromisoformat(f"{typed.removesuffix('+02:00')}{zone}")
        return (local + timedelta(minutes=minutes)).isoformat()

    assert without_times(result(changed(case, moved))) == without_times(result(case))


@settings(max_examples=examples(sample=25, whole=1000))
@given(accounts())
def test_micrograms_in_the_place_of_milligrams_change_no_figure(case: dict[str, Any]) -> None:
    def in_mcg(key: str, typed: str) -> str:
        number, _, unit = typed.partition(" ")
        if key == "at" or unit not in {"mg", "mg/h", "mg/mL"}:
            return typed
        return f"{Fraction(number) * 1000} {unit.replace('mg', 'mcg', 1)}"

    # The last digit of a display is finer in mcg, so it is given.
    case["policy"]["display_step_amount"] = "0.1 mg"
    assert result(changed(case, in_mcg)) == result(case)


@settings(max_examples=examples(sample=20, whole=600))
@given(accounts())
def test_a_case_always_gives_the_same_bytes(case: dict[str, Any]) -> None:
    assert json.dumps(result(case)) == json.dumps(result(json.loads(json.dumps(case))))
