"""Sums of exact figures, most of which are zero here: a fraction is passed over faster than it is added."""

from collections.abc import Iterable
from fractions import Fraction

_NOTHING = Fraction(0)


def total(values: Iterable[Fraction]) -> Fraction:
    """The sum."""
    found = _NOTHING
    for value in values:
        if value:
            found = found + value if found else value
    return found


def find_total(values: Iterable[Fraction | None]) -> Fraction | None:
    """The sum; None where one of them is."""
    found = _NOTHING
    for value in values:
        if value is None:
            return None
        if value:
            found = found + value if found else value
    return found


def less(one: Fraction, other: Fraction) -> Fraction:
    """The difference."""
    return one - other if other else one


def times(value: Fraction, factor: Fraction) -> Fraction:
    """The product."""
    return value * factor if value else value


def find_times(value: Fraction | None, factor: Fraction) -> Fraction | None:
    """The product; None of none."""
    return None if value is None else times(value, factor)
