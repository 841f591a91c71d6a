"""Presses and doses by hand: what could have been granted, and what needs a press."""

from typing import Any

import pytest

from tests.accounting.builders import codes, entry, exact, finding, result_of, set_up, totals


def read(time: str, amount: str, *counts: int, **keys: str) -> dict[str, Any]:
    return entry("read", time, totals=totals(amount, *counts), **keys)


def predicted(reading: dict[str, Any]) -> tuple[str | None, str | None]:
    return exact(reading["predicted"]["least"]), exact(reading["predicted"]["most"])


def test_doses_are_judged_from_every_earlier_reading() -> None:
    """Each hour could be by itself; two hours together could not."""
    limit = {"amount": "4 mg", "window": "4 h"}
    result = result_of(
        *set_up(limit=limit),
        read("09:30", "4 mg", 9, 4),
        read("10:30", "8 mg", 20, 8),
        read("11:30", "9 mg", 22, 9),
    )
    assert codes(result) == [("doses-above-possible", 5)]
    assert "8 doses" in finding(result, "doses-above-possible")["says"]
    # From that reading on the later ones are judged: the ninth dose is possible.
    assert result["readings"][-1]["possible_doses"] == 4


def test_doses_since_a_reading_that_went_back_are_judged_from_there() -> None:
    limit = {"amount": "4 mg", "window": "4 h"}
    result = result_of(
        *set_up(limit=limit),
        read("09:30", "4 mg", 9, 4),
        read("10:00", "3 mg", 3, 3),
        read("10:30", "9 mg", 20, 9),
    )
    assert codes(result) == [("totals-went-back", 5), ("doses-above-possible", 6)]


def test_presses_and_doses_are_compared_since_the_last_reading_that_gave_both() -> None:
    entries = [
        *set_up(),
        read("09:30", "2 mg", 2, 2),
        entry("read", "10:00", totals={"amount": "3 mg", "presses": 3}),
    ]
    assert codes(result_of(*entries, read("10:30", "4 mg", 3, 4))) == [("presses-below-doses", 6)]
    assert codes(result_of(*entries, read("10:30", "4 mg", 4, 4))) == []


def test_boluses_among_the_doses_need_no_press() -> None:
    entries = [*set_up(), entry("bolus", "09:00", amount="1 mg", loading=False), read("09:30", "3 mg", 2, 3)]
    assert codes(result_of(*entries, policy={"doses_count_bolus": True})) == []
    assert ("presses-below-doses", 5) in codes(result_of(*entries))


def test_fewer_doses_than_boluses_among_them_leave_the_demands_unknown() -> None:
    entries = [*set_up(), entry("bolus", "09:00", amount="1 mg", loading=False), read("09:30", "3 mg", 9, 0)]
    result = result_of(*entries, policy={"doses_count_bolus": True, "presses_per_dose": 2})
    assert codes(result) == [("doses-below-boluses", 5)]
    assert predicted(result["readings"][-1]) == ("1 mg", "9 mg")


@pytest.mark.parametrize(
    ("presses", "doses", "is_far"), [(6, 2, False), (7, 2, True), (3, 0, False), (4, 0, True)]
)
def test_presses_far_above_doses(presses: int, doses: int, is_far: bool) -> None:  # noqa: FBT001  # a row
    result = result_of(
        *set_up(), read("09:30", f"{doses} mg", presses, doses), policy={"presses_per_dose": 3}
    )
    assert codes(result) == ([("presses-far-above-doses", 4)] if is_far else [])
