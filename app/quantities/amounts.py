"""An exact amount with its unit, and the one way of writing it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.quantities.units import Dimension, units_of, written_units

# "Below 0.1 mg" is read in mcg: 0.02 mg invites a lost zero, 20 mcg does not.
_SHOWN_IN_MCG = {"mg": "mcg", "mg/mL": "mcg/mL", "mg/h": "mcg/h"}
_SHOWN_IN_MCG_BELOW = 10  # parts of a mg
_SIGNIFICANT_DIGITS = 3
_IN_HOURS_ABOVE = 120  # minutes
_UNITS = "|".join(re.escape(unit) for each in Dimension for unit in units_of(each))
_UNGROUPED = re.compile(rf"(?<![0-9.,-])[0-9]{{4,}}(?=(?:\.[0-9]+)? (?:{_UNITS})(?![A-Za-z]))")


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """An exact amount, in the unit that its dimension is computed in."""

    value: Fraction
    dimension: Dimension

    @property
    def unit(self) -> str:
        """The unit of `value`."""
        return self.dimension.value

    def as_json(self) -> dict[str, str]:
        """The amount as the contract writes it: exact, unit, shown."""
        return {"exact": exact(self.value), "unit": self.unit, "shown": show(self)}


def show(quantity: Quantity) -> str:
    """The amount for people, as `1,250 mcg`: three significant digits, never rounded left of the point."""
    numerator, denominator, unit = quantity.value.numerator, quantity.value.denominator, quantity.unit
    if numerator and numerator * _SHOWN_IN_MCG_BELOW < denominator and unit in _SHOWN_IN_MCG:
        return f"{_shown(numerator * 1000, denominator)} {_SHOWN_IN_MCG[unit]}"
    return f"{_shown(numerator, denominator)} {unit}"


def show_number(value: Fraction) -> str:
    """A number from zero up, rounded half-even to three significant digits, thousands set off by commas."""
    return _shown(value.numerator, value.denominator)


def show_time(minutes: Fraction) -> str:
    """A length of time for people: above 2 h in hours, for nobody reads 1,470 min as a day."""
    if minutes > _IN_HOURS_ABOVE:
        return f"{show_number(minutes / 60)} h"
    return f"{show_number(minutes)} min"


def for_people(written: Mapping[str, str]) -> str:
    """An amount that a contract wrote, as pages and paper say it: as shown, but a length of time anew."""
    if written.get("unit") == Dimension.TIME:
        return show_time(Fraction(written["exact"]))
    return written["shown"]


def show_in(quantity: Quantity, unit: str) -> str:
    """The amount in the unit of the one that it stands beside: 20 mcg beside 0.2 mg is 0.02 mg.

    To the last digit where it has one, so that what was read is not rounded.
    """
    value = quantity.value / written_units()[unit].factor
    if _finite_decimals(value.denominator) is None:
        return f"{show_number(value)} {unit}"
    whole, point, part = exact(value).partition(".")
    return f"{int(whole):,}{point}{part} {unit}"


def set_off(typed: str) -> str:
    """A quantity as it was typed, for people: `1500 mcg` as `1,500 mcg`; any other text as it is."""
    return _UNGROUPED.sub(lambda found: f"{int(found[0]):,}", typed)


def exact(value: Fraction) -> str:
    """The number without any rounding: an integer or a finite decimal where there is one, else a fraction."""
    numerator, denominator = value.numerator, value.denominator
    if denominator == 1:
        return str(numerator)
    decimals = _finite_decimals(denominator)
    if decimals is None:
        return f"{numerator}/{denominator}"
    whole, part = divmod(numerator * 10**decimals // denominator, 10**decimals)
    return f"{whole}.{part:0{decimals}d}"


# Whole numbers from here on: fractions would take most of a comparison's time only to be shown.
def _shown(numerator: int, denominator: int) -> str:
    decimals = max(0, _SIGNIFICANT_DIGITS - 1 - _magnitude(numerator, denominator))
    scale = 10**decimals
    rounded = _rounded_half_even(numerator * scale, denominator)
    whole, part = divmod(rounded, scale)
    return f"{whole:,}.{part:0{decimals}d}".rstrip("0") if part else f"{whole:,}"


def _rounded_half_even(numerator: int, denominator: int) -> int:
    whole, rest = divmod(numerator, denominator)
    is_over = rest * 2 > denominator or (rest * 2 == denominator and whole % 2 == 1)
    return whole + 1 if is_over else whole


def _magnitude(numerator: int, denominator: int) -> int:
    """The power of ten of the first digit: 2 for 250, 0 for 3, -1 for 0.3; 0 for zero."""
    if not numerator:
        return 0
    magnitude = len(str(numerator)) - len(str(denominator))
    if magnitude >= 0:
        return magnitude if numerator >= denominator * 10**magnitude else magnitude - 1
    return magnitude if numerator * 10**-magnitude >= denominator else magnitude - 1


def _finite_decimals(denominator: int) -> int | None:
    """How many decimals a fraction with this denominator (in lowest terms) has; None when they never end."""
    twos, rest = _divided_out(denominator, 2)
    fives, rest = _divided_out(rest, 5)
    return max(twos, fives) if rest == 1 else None


def _divided_out(number: int, prime: int) -> tuple[int, int]:
    """How often a number can be divided by a prime without a rest, and what is left of it."""
    times = 0
    quotient, rest = divmod(number, prime)
    while not rest:
        number = quotient
        times += 1
        quotient, rest = divmod(number, prime)
    return times, number
