"""The one way of writing an amount, and the units behind it."""

from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.quantities import (
    Dimension,
    Quantity,
    exact,
    for_people,
    set_off,
    show,
    show_in,
    show_number,
    show_time,
    units_of,
)
from app.quantities.units import written_units

SHOWN = [
    (Fraction(0), Dimension.MASS, "0 mg"),
    (Fraction(1), Dimension.MASS, "1 mg"),
    (Fraction(10), Dimension.MASS, "10 mg"),
    (Fraction(1, 10), Dimension.MASS, "0.1 mg"),
    (Fraction(99, 1000), Dimension.MASS, "99 mcg"),
    (Fraction(9999, 100000), Dimension.MASS, "100 mcg"),
    (Fraction(1, 50), Dimension.MASS, "20 mcg"),
    (Fraction(1, 10**6), Dimension.MASS, "0.001 mcg"),
    (Fraction(1, 600), Dimension.MASS, "1.67 mcg"),
    (Fraction(1, 6), Dimension.CONCENTRATION, "0.167 mg/mL"),
    (Fraction(1, 20), Dimension.CONCENTRATION, "50 mcg/mL"),
    (Fraction(1, 100), Dimension.MASS_RATE, "10 mcg/h"),
    (Fraction(1, 100), Dimension.VOLUME, "0.01 mL"),
    (Fraction(1, 100), Dimension.VOLUME_RATE, "0.01 mL/h"),
    (Fraction(1, 3), Dimension.TIME, "0.333 min"),
    (Fraction(1000), Dimension.TIME, "1,000 min"),
    (Fraction(1234567), Dimension.TIME, "1,234,567 min"),
    (Fraction(12345, 10), Dimension.TIME, "1,234 min"),
    (Fraction(12355, 10), Dimension.TIME, "1,236 min"),
    (Fraction(9995, 1000), Dimension.TIME, "10 min"),
    (Fraction(9985, 1000), Dimension.TIME, "9.98 min"),
    (Fraction(9996, 10), Dimension.TIME, "1,000 min"),
    (Fraction(9996, 100), Dimension.TIME, "100 min"),
    (Fraction(1005, 1000), Dimension.TIME, "1 min"),
    (Fraction(1015, 1000), Dimension.TIME, "1.02 min"),
    (Fraction(150, 101), Dimension.TIME, "1.49 min"),
    (Fraction(82), Dimension.WEIGHT, "82 kg"),
]

EXACT = [
    (Fraction(0), "0"),
    (Fraction(12), "12"),
    (Fraction(1, 2), "0.5"),
    (Fraction(1, 5), "0.2"),
    (Fraction(1, 8), "0.125"),
    (Fraction(1, 25), "0.04"),
    (Fraction(1, 50000), "0.00002"),
    (Fraction(12345, 100), "123.45"),
    (Fraction(7, 80), "0.0875"),
    (Fraction(1, 6), "1/6"),
    (Fraction(100, 3), "100/3"),
    (Fraction(7, 15), "7/15"),
    (Fraction(1, 14), "1/14"),
]


@pytest.mark.parametrize(("value", "dimension", "shown"), SHOWN)
def test_shown(value: Fraction, dimension: Dimension, shown: str) -> None:
    assert show(Quantity(value=value, dimension=dimension)) == shown


@pytest.mark.parametrize(("value", "written"), EXACT)
def test_exact(value: Fraction, written: str) -> None:
    assert exact(value) == written


def test_as_json() -> None:
    quantity = Quantity(value=Fraction(1, 60), dimension=Dimension.MASS)
    assert quantity.as_json() == {"exact": "1/60", "unit": "mg", "shown": "16.7 mcg"}


@given(st.fractions(min_value=0, max_value=10**9, max_denominator=10**7))
def test_exact_loses_nothing(value: Fraction) -> None:
    assert Fraction(exact(value)) == value


@given(st.fractions(min_value=0, max_value=10**7, max_denominator=10**5))
def test_shown_is_what_decimal_arithmetic_rounds_to(value: Fraction) -> None:
    """The standard library's decimal module rounds the same number to three digits, half to even."""
    shown = show_number(value).replace(",", "")
    digits = max(3, len(str(int(value))))
    context = Context(prec=digits, rounding=ROUND_HALF_EVEN)
    expected = context.divide(Decimal(value.numerator), Decimal(value.denominator))
    assert Decimal(shown) == expected
    assert "." not in shown or not shown.endswith(("0", "."))


# The SI brochure (BIPM, 9th edition, 2019; from memory): milli 10^-3, micro 10^-6, kilo 10^3; 1 min = 60 s,
# 1 h = 3600 s, 1 L = 10^-3 m^3. mcg is the safe way of writing the microgram (ISMP).
SI_FACTORS = {
    ("g", "mg"): Fraction(1000),
    ("mcg", "mg"): Fraction(1, 1000),
    ("mg", "mg"): Fraction(1),
    ("L", "mL"): Fraction(1000),
    ("mL", "mL"): Fraction(1),
    ("s", "min"): Fraction(1, 60),
    ("min", "min"): Fraction(1),
    ("h", "min"): Fraction(60),
    ("mg/h", "mg/h"): Fraction(1),
    ("mcg/h", "mg/h"): Fraction(1, 1000),
    ("mg/min", "mg/h"): Fraction(60),
    ("mcg/min", "mg/h"): Fraction(60, 1000),
    ("mL/h", "mL/h"): Fraction(1),
    ("mL/min", "mL/h"): Fraction(60),
    ("mg/mL", "mg/mL"): Fraction(1),
    ("mcg/mL", "mg/mL"): Fraction(1, 1000),
    ("g/L", "mg/mL"): Fraction(1),
    ("mg/L", "mg/mL"): Fraction(1, 1000),
    ("kg", "kg"): Fraction(1),
    ("/min", "/min"): Fraction(1),
    ("%", "%"): Fraction(1),
    ("mmHg", "mmHg"): Fraction(1),
}


def test_every_unit_has_the_factor_that_the_si_gives_it() -> None:
    known = {(written, unit.dimension.value): unit.factor for written, unit in written_units().items()}
    assert known == SI_FACTORS
    assert all(type(factor) is Fraction for factor in known.values())


def test_the_units_of_a_kind_begin_with_the_usual_one() -> None:
    assert units_of(Dimension.MASS) == ("mg", "mcg", "g")
    assert units_of(Dimension.TIME) == ("min", "h", "s")
    assert sorted(unit for dimension in Dimension for unit in units_of(dimension)) == sorted(written_units())


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("1500 mcg", "1,500 mcg"),
        ("1500.5 mcg", "1,500.5 mcg"),
        ("1500 mcg/30 mL", "1,500 mcg/30 mL"),
        ("50 mg/1000 mL", "50 mg/1,000 mL"),
        ("12345678 mg", "12,345,678 mg"),
        ("999 mg", "999 mg"),
        ("1000 %", "1,000 %"),
        # No quantities: a day, a lot, a number that is only near a unit.
        ("2031-05-02 14:00", "2031-05-02 14:00"),
        ("DM-40417 h", "DM-40417 h"),
        ("0.12345 mg", "0.12345 mg"),
        ("lot 40417", "lot 40417"),
        ("4000 monitors", "4000 monitors"),
    ],
)
def test_thousands_of_what_was_typed_are_set_off(typed: str, shown: str) -> None:
    assert set_off(typed) == shown


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (Fraction(10), "10 min"),
        (Fraction(120), "120 min"),
        (Fraction(12001, 100), "2 h"),
        (Fraction(150), "2.5 h"),
        (Fraction(1470), "24.5 h"),
        (Fraction(200, 3), "66.7 min"),
    ],
)
def test_a_length_of_time_above_two_hours_is_said_in_hours(minutes: Fraction, said: str) -> None:
    assert show_time(minutes) == said


def test_a_figure_of_a_contract_is_said_from_its_exact_value() -> None:
    # Shown is 1,470 min either way; only the exact value knows 24.51 h from 24.5 h.
    time = Quantity(value=Fraction(147049, 100), dimension=Dimension.TIME).as_json()
    assert time["shown"] == "1,470 min"
    assert for_people(time) == "24.5 h"
    assert for_people(Quantity(value=Fraction(1, 50), dimension=Dimension.MASS).as_json()) == "20 mcg"
    assert for_people({"exact": "5", "shown": "5"}) == "5", "a factor has no unit"


@pytest.mark.parametrize(
    ("value", "dimension", "unit", "said"),
    [
        (Fraction(1, 50), Dimension.MASS, "mg", "0.02 mg"),
        (Fraction(5), Dimension.MASS, "mcg", "5,000 mcg"),
        (Fraction(12345, 10**6), Dimension.MASS, "mg", "0.012345 mg"),
        (Fraction(1, 30), Dimension.MASS_RATE, "mg/h", "0.0333 mg/h"),
        (Fraction(240), Dimension.TIME, "h", "4 h"),
    ],
)
def test_an_amount_is_said_in_the_unit_of_the_one_beside_it(
    value: Fraction, dimension: Dimension, unit: str, said: str
) -> None:
    assert show_in(Quantity(value=value, dimension=dimension), unit) == said
