"""Figures as a result writes them: each value of a case once, because most of them stand there many times."""

from collections.abc import Mapping
from fractions import Fraction
from math import isqrt

from app.quantities import Dimension, Quantity, exact, show_number

Written = Mapping[str, str]
_THREE_DIGITS = 100**2
"""From this square on its root has three digits before the point."""


class Writer:
    """Writes the figures of one result."""

    def __init__(self) -> None:
        # By numerator and denominator: to hash a fraction takes as long as to write it.
        self._volumes: dict[tuple[int, int], Written] = {}
        self._amounts: dict[tuple[int, int], Written] = {}

    def volume(self, value: Fraction | None) -> Written | None:
        """A volume in mL."""
        if value is None:
            return None
        key = value.as_integer_ratio()
        if key not in self._volumes:
            self._volumes[key] = quantity(value, Dimension.VOLUME)
        return self._volumes[key]

    def amount(self, value: Fraction | None) -> Written | None:
        """A mass in mg."""
        if value is None:
            return None
        key = value.as_integer_ratio()
        if key not in self._amounts:
            self._amounts[key] = quantity(value, Dimension.MASS)
        return self._amounts[key]

    def either(self, value: Fraction, dimension: Dimension) -> Written | None:
        """A mass or a volume."""
        return self.amount(value) if dimension is Dimension.MASS else self.volume(value)


def quantity(value: Fraction, dimension: Dimension) -> Written:
    """A quantity; a negative one has its sign before its magnitude."""
    if value.numerator >= 0:
        return Quantity(value=value, dimension=dimension).as_json()
    written = Quantity(value=-value, dimension=dimension).as_json()
    return {"exact": f"-{written['exact']}", "unit": written["unit"], "shown": f"-{written['shown']}"}


def root(square: Fraction) -> Written:
    """A root in mL: its exact square, and the root rounded as every figure is."""
    return {"square": exact(square), "unit": Dimension.VOLUME.value, "shown": f"{_shown_root(square)} mL"}


def _shown_root(square: Fraction) -> str:
    """Three significant digits, never rounded left of the point; half goes to the even one."""
    numerator, denominator = square.as_integer_ratio()
    decimals = 0
    while numerator and numerator < _THREE_DIGITS * denominator:
        decimals += 1
        numerator *= 100
    return show_number(Fraction(_rounded_root(numerator, denominator), 10**decimals))


def _rounded_root(numerator: int, denominator: int) -> int:
    """The whole number next to a root, by whole numbers alone: a root has no end."""
    below = isqrt(numerator // denominator)
    # The square of twice the root beside that of the odd number in the middle.
    twice, middle = 4 * numerator, (2 * below + 1) ** 2 * denominator
    if twice == middle:
        return below + below % 2
    return below + (twice > middle)
