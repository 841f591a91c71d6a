"""Slips where a device takes its doses as volumes; and on a keypad with the other row on top."""

from fractions import Fraction

import pytest

from app.comparison import CaseError, Finding, read_case
from app.comparison.masses import masses_in
from tests.comparison.builders import ABSENT, case_with, result_of
from tests.comparison.disagreements import disagreement, set_otherwise

# A syringe of 5 mg/mL, on a device in mL.
STRONG: dict[str, object] = {"AB.all.amount": "250 mg", "AB.device.amount": ABSENT}


def set_in_volumes(ordered: str, device: str, **changes: object) -> Finding:
    made = {**STRONG, "AB.order.demand_dose": ordered, "AB.device.demand_dose": device, **changes}
    return disagreement(made, "demand_dose")


ROWS: list[tuple[str, str, str | None, str]] = [
    # the ordered mg typed as mL: the same number, or the same in mg and mL
    ("2 mg", "2 mL", "mass-for-volume", "5"),
    ("2000 mcg", "2 mL", "mass-for-volume", "5"),
    ("0.002 g", "0.002 L", "mass-for-volume", "5"),
    # otherwise the ratio of the masses
    ("2 mg", "4 mL", "decimal-shift", "10"),
    ("5 mg", "0.1 mL", "decimal-shift", "1/10"),
    ("1 mg", "0.4 mL", None, "2"),
    ("0.1 mg", "20 mL", "unit-slip", "1000"),
    ("1 mg", "12 mL", "minutes-for-hours", "60"),
    # as bare numbers 2 mg are 10 by the concentration: but somebody did type mL
    ("10 mg", "0.4 mL", None, "1/5"),
]


@pytest.mark.parametrize("row", ROWS, ids=range(len(ROWS)))
def test_slip_between_an_order_in_masses_and_a_device_in_volumes(
    row: tuple[str, str, str | None, str],
) -> None:
    ordered, device, slip, factor = row
    finding = set_in_volumes(ordered, device)
    assert (finding.code, finding.slip, finding.factor) == ("device-differs", slip, Fraction(factor))


def test_a_rate_in_volumes() -> None:
    changes: dict[str, object] = {
        **STRONG,
        "AB.chart.opioid_tolerant": "yes",
        "AB.settings.mode": "demand-and-continuous",
        "AB.device.demand_dose": "0.2 mL",
        "AB.order.continuous_rate": "2 mg/h",
        "AB.device.continuous_rate": "2 mL/h",
    }
    finding = disagreement(changes, "continuous_rate")
    assert (finding.slip, finding.factor) == ("mass-for-volume", Fraction(5))
    assert "2 mL/h (10 mg/h) is set" in finding.says


def test_a_volume_left_over_is_the_same_volume_and_a_mass_the_same_mass() -> None:
    assert set_in_volumes("1 mg", "0.4 mL", **{"previous.demand_dose": "0.4 mL"}).slip == "stale-value"
    assert set_in_volumes("1 mg", "0.4 mL", **{"previous.demand_dose": "0.3 mL"}).slip is None
    assert set_in_volumes("1 mg", "0.4 mL", **{"previous.demand_dose": "2 mg"}).slip == "stale-value"
    # Of a device in masses no volume is left over.
    in_masses = {"previous.demand_dose": "2 mL", **set_otherwise("demand_dose", "9 mg", "2 mg")}
    assert disagreement(in_masses, "demand_dose").slip is None


def read_differently(first: str, second: str, **changes: object) -> Finding:
    made = {
        **STRONG,
        "AB.device.volume": ABSENT,
        "A.device.demand_dose": first,
        "B.device.demand_dose": second,
        **changes,
    }
    return disagreement(made, "demand_dose")


def test_two_volumes_between_clinicians_are_compared_as_they_were_typed() -> None:
    finding = read_differently("0.2 mL", "2 mL")
    assert (finding.code, finding.slip, finding.factor) == ("readings-differ", "decimal-shift", Fraction(10))
    # Of the masses, one of a fivefold strength, it would be fifty times.
    finding = read_differently("0.2 mL", "2 mL", **{"B.label.amount": "1250 mg"})
    assert (finding.slip, finding.factor) == ("decimal-shift", Fraction(10))


def test_a_mass_and_a_volume_between_clinicians_have_no_ratio() -> None:
    finding = read_differently("2 mg", "2 mL")
    assert (finding.slip, finding.factor) == ("mass-for-volume", None)
    # 10 mg are 2 mL of 5 mg/mL, and still they were not read alike.
    finding = read_differently("10 mg", "2 mL")
    assert (finding.code, finding.slip, finding.factor) == ("readings-differ", None, None)


def test_of_a_volume_left_over_exactly_one_of_two_readings_is_it() -> None:
    before = {"previous.demand_dose": "10 mg"}
    assert read_differently("10 mg", "3 mL", **before).slip == "stale-value"
    # Both are 10 mg.
    assert read_differently("10 mg", "2 mL", **before).slip is None


def test_a_volume_of_unknown_strength_is_nothing_that_was_set_before() -> None:
    unknown: dict[str, object] = {"AB.label.volume": ABSENT, "previous.continuous_rate": None}
    changes = {
        **STRONG,
        **unknown,
        "AB.device.demand_dose": "0.2 mL",
        "A.device.continuous_rate": "1 mL/h",
        "B.device.continuous_rate": "3 mL/h",
    }
    assert disagreement(changes, "continuous_rate").slip is None


ONE_ON_TOP = {"12", "23", "45", "56", "78", "89", "14", "25", "36", "47", "58", "69", "08"}


@pytest.mark.parametrize("one", "0123456789")
@pytest.mark.parametrize("other", "0123456789")
def test_keys_that_touch_where_one_two_three_is_on_top(one: str, other: str) -> None:
    if one == other:
        return
    changes = set_otherwise("demand_dose", f"3{one}7 mg", f"3{other}7 mg")
    finding = disagreement({**changes, "policy.keypad": "123-on-top"}, "demand_dose")
    is_touching = bool(ONE_ON_TOP & {one + other, other + one})
    assert finding.slip == ("neighbour-key" if is_touching else None)


def test_a_typed_zero_has_digits_and_no_ratio() -> None:
    changes: dict[str, object] = {
        "AB.chart.opioid_tolerant": "yes",
        "AB.settings.mode": "demand-and-continuous",
        "AB.order.continuous_rate": "2 mg/h",
        "AB.device.continuous_rate": "0 mg/h",
    }
    finding = disagreement(changes, "continuous_rate")
    assert (finding.slip, finding.factor) == ("neighbour-key", None)
    [conflict] = [each for each in result_of(changes).findings if each.code == "mode-conflict"]
    assert conflict.field == "mode"


def test_the_second_limit_typed_as_a_volume_of_it() -> None:
    """6 mg of 3 mg/mL are 2 mL: somebody typed the 2."""
    hour = {"amount": "3 mg", "window": "1 h"}
    changes: dict[str, object] = {
        "AB.all.amount": "150 mg",
        "AB.order.limit": [hour, {"amount": "6 mg", "window": "4 h"}],
        "AB.device.limit": [hour, {"amount": "2 mg", "window": "4 h"}],
    }
    assert disagreement(changes, "limit.2.amount").slip == "amount-for-volume"


def masses_of(made: dict[str, object]) -> list[tuple[str, str, str]]:
    read = read_case(case_with(made))
    assert not isinstance(read, CaseError)
    return list(masses_in(read))


def test_the_mass_in_each_volume_is_told_where_the_concentration_is_known() -> None:
    made: dict[str, object] = {
        **STRONG,
        "AB.device.volume": ABSENT,
        "A.device.demand_dose": "0.2 mL",
        "B.device.demand_dose": "2 mg",
    }
    assert masses_of(made) == [("A", "demand_dose", "1 mg")]
    assert masses_of({**made, "A.label.amount": ABSENT}) == []
