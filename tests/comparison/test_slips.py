"""The table of slips: for each the pairs that it fits, the ones that it just does not, what comes first."""

from fractions import Fraction

import pytest

from app.comparison.wording import SLIPS
from tests.comparison.builders import ABSENT, result_of
from tests.comparison.disagreements import BOTH, disagreement, set_otherwise

# In what is ordered and set, the factor being q divided by p.
DEVICE = [
    # unit-slip: the same number in other units, or a thousand times
    ("demand_dose", "1 mg", "1 mcg", "unit-slip", "1/1000"),
    ("demand_dose", "1 mcg", "1 g", "unit-slip", "1000000"),
    ("demand_dose", "20 mcg", "20 mg", "unit-slip", "1000"),
    ("demand_dose", "2 mg", "2000 mg", "unit-slip", "1000"),
    ("demand_dose", "2000 mcg", "2 mcg", "unit-slip", "1/1000"),
    ("lockout", "10 min", "10 h", "unit-slip", "60"),
    ("limit.window", "4 h", "240 min", None, None),
    # decimal-shift
    ("demand_dose", "0.2 mg", "2 mg", "decimal-shift", "10"),
    ("demand_dose", "2 mg", "0.2 mg", "decimal-shift", "1/10"),
    ("demand_dose", "0.2 mg", "20 mg", "decimal-shift", "100"),
    ("demand_dose", "20 mcg", "2 mg", "decimal-shift", "100"),
    ("demand_dose", "0.1 mg", "1000 mg", "decimal-shift", "10000"),
    ("lockout", "10 min", "100 min", "decimal-shift", "10"),
    # minutes-for-hours
    ("lockout", "5 min", "300 min", "minutes-for-hours", "60"),
    ("lockout", "300 min", "5 min", "minutes-for-hours", "1/60"),
    ("continuous_rate", "1 mg/h", "60 mg/h", "minutes-for-hours", "60"),
    # digits-swapped
    ("demand_dose", "12 mg", "21 mg", "digits-swapped", "7/4"),
    ("demand_dose", "1.2 mg", "2.1 mg", "digits-swapped", "7/4"),
    ("demand_dose", "1.23 mg", "1.32 mg", "digits-swapped", "44/41"),
    ("demand_dose", "123 mg", "321 mg", None, "107/41"),
    ("demand_dose", "1.2 mg", "0.21 mg", None, "7/40"),
    ("demand_dose", "1234 mg", "2143 mg", None, "2143/1234"),
    ("demand_dose", "12 mg", "21000 mcg", None, "7/4"),
    # digit-doubled
    ("demand_dose", "12 mg", "112 mg", "digit-doubled", "28/3"),
    ("demand_dose", "12 mg", "122 mg", "digit-doubled", "61/6"),
    ("demand_dose", "112 mg", "12 mg", "digit-doubled", "3/28"),
    ("demand_dose", "1.5 mg", "1.15 mg", "digit-doubled", "23/30"),
    ("demand_dose", "1.5 mg", "15.5 mg", "digit-doubled", "31/3"),
    ("demand_dose", "1.5 mg", "11.5 mg", "digit-doubled", "23/3"),
    ("demand_dose", "2 mg", "22 mg", "digit-doubled", "11"),
    ("demand_dose", "12.5 mg", "12.25 mg", "digit-doubled", "49/50"),
    ("demand_dose", "1.52 mg", "15.52 mg", "digit-doubled", "194/19"),
    # digit-dropped
    ("demand_dose", "12 mg", "132 mg", "digit-dropped", "11"),
    ("demand_dose", "18 mg", "8 mg", "digit-dropped", "4/9"),
    ("demand_dose", "1.25 mg", "1.2 mg", "digit-dropped", "24/25"),
    ("demand_dose", "1.25 mg", "1.5 mg", "digit-dropped", "6/5"),
    ("demand_dose", "12 mg", "1.32 mg", None, "11/100"),
    ("demand_dose", "12 mg", "345 mg", None, "115/4"),
    ("demand_dose", "1 mg", "123 mg", None, "123"),
    ("demand_dose", "12 mg", "132000 mcg", None, "11"),
    # neighbour-key
    ("demand_dose", "12 mg", "15 mg", "neighbour-key", "5/4"),
    ("demand_dose", "0.4 mg", "0.7 mg", "neighbour-key", "7/4"),
    ("demand_dose", "1.4 mg", "1.8 mg", None, "9/7"),
    ("demand_dose", "1.4 mg", "2.5 mg", None, "25/14"),
    ("demand_dose", "14 mg", "1.7 mg", None, "17/140"),
    ("demand_dose", "4 mg", "7000 mcg", None, "7/4"),
    ("demand_dose", "1.25 mg", "12.4 mg", None, "248/25"),
    ("demand_dose", "1.25 mg", "21.5 mg", None, "86/5"),
    # none of them
    ("demand_dose", "1 mg", "7 mg", None, "7"),
    ("monitor.low_spo2", "92 %", "95 %", "neighbour-key", "95/92"),
]


@pytest.mark.parametrize("row", DEVICE)
def test_slip_between_order_and_device(row: tuple[str, str, str, str | None, str | None]) -> None:
    field, ordered, device, slip, factor = row
    changes = {**(BOTH if field == "continuous_rate" else {}), **set_otherwise(field, ordered, device)}
    if factor is None:
        assert [each for each in result_of(changes).findings if each.field == field and each.origin] == []
        return
    finding = disagreement(changes, field)
    assert (finding.code, finding.slip, finding.factor) == ("device-differs", slip, Fraction(factor))
    sentence = f"Consistent with {SLIPS[slip]}." if slip else "."
    assert finding.says.endswith(sentence)
    assert finding.says.count("Consistent") == (1 if slip else 0)


TOUCHING = {"78", "89", "45", "56", "12", "23", "47", "58", "69", "14", "25", "36", "02"}


@pytest.mark.parametrize("one", "0123456789")
@pytest.mark.parametrize("other", "0123456789")
def test_keys_that_touch(one: str, other: str) -> None:
    if one == other:
        return
    finding = disagreement(set_otherwise("demand_dose", f"3{one}7 mg", f"3{other}7 mg"), "demand_dose")
    is_touching = bool(TOUCHING & {one + other, other + one})
    assert finding.slip == ("neighbour-key" if is_touching else None)


def test_drug_swap_comes_before_all_others() -> None:
    changes = {"AB.device.drug": "fentanyl", "previous.drug": "fentanyl"}
    assert disagreement(changes, "drug").slip == "drug-swap"


def test_the_factor_between_clinicians_is_the_larger_by_the_smaller() -> None:
    for a, b in (("9 min", "6 min"), ("6 min", "9 min")):
        finding = disagreement({"A.device.lockout": a, "B.device.lockout": b}, "lockout")
        assert finding.factor == Fraction(3, 2)
        assert "One is 1.5 times the other." in finding.says


def test_the_slip_of_a_label_that_differs() -> None:
    changes: dict[str, object] = {"AB.label.amount": "500 mg"}
    found = disagreement(changes, "concentration")
    assert (found.code, found.slip, found.factor) == ("label-differs", "decimal-shift", Fraction(10))
    # Another field of the same two sources has the two numbers the other way round.
    swapped: dict[str, object] = {
        "AB.all.amount": ABSENT,
        "AB.all.volume": ABSENT,
        "AB.all.concentration": "2 mg/mL",
        "AB.label.concentration": "5 mg/mL",
        "AB.order.amount": "5 mg",
        "AB.label.amount": "2 mg",
    }
    assert disagreement(swapped, "concentration").slip == "swapped-fields"


def test_the_factor_of_a_concentration_is_the_strength_as_a_read_it() -> None:
    changes: dict[str, object] = {"AB.device.amount": "100 mg", "AB.label.amount": "250 mg"}
    finding = disagreement(changes, "concentration")
    assert (finding.code, finding.factor) == ("label-differs", Fraction(5, 2))
    assert disagreement({**changes, "AB.label.drug": "fentanyl"}, "concentration").factor is None


def test_the_factor_of_a_concentration_in_the_record_or_between_clinicians_is_no_strength() -> None:
    finding = disagreement({"order_of_record.concentration": "2 mg/mL"}, "concentration")
    assert (finding.factor, finding.slip) == (Fraction(1, 2), None)
    finding = disagreement({"B.label.amount": "250 mg"}, "concentration")
    assert (finding.factor, finding.slip) == (Fraction(5), None)


def test_no_number_has_no_factor() -> None:
    for changes, field in (
        ({"AB.device.drug": "fentanyl"}, "drug"),
        ({"AB.device.limit": {"amount": "60 mg", "window": "4 h"}}, "limit.amount"),
        ({**BOTH, "AB.device.continuous_rate": "0 mg/h"}, "continuous_rate"),
        ({"A.label.use_by": "2031-06-01T00:00Z", "B.label.use_by": "2031-06-02T00:00Z"}, "use_by"),
    ):
        assert disagreement(dict(changes), field).factor is None


def test_a_time_is_no_number() -> None:
    changes: dict[str, object] = {
        "A.label.use_by": "2031-06-01T00:00Z",
        "B.label.use_by": "2031-06-02T00:00Z",
    }
    finding = disagreement(changes, "use_by")
    assert (finding.code, finding.slip) == ("readings-differ", None)
    assert finding.readings == {"A.label": "2031-06-01T00:00Z", "B.label": "2031-06-02T00:00Z"}
