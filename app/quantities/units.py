"""The units that may be written, and the exact factor of each to the one unit its kind is computed in."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache


class Dimension(StrEnum):
    """A kind of quantity; its value is the unit that its amounts are computed and shown in."""

    MASS = "mg"
    VOLUME = "mL"
    TIME = "min"
    MASS_RATE = "mg/h"
    VOLUME_RATE = "mL/h"
    CONCENTRATION = "mg/mL"
    WEIGHT = "kg"
    FREQUENCY = "/min"
    PERCENT = "%"
    PRESSURE = "mmHg"


_WRITTEN = {
    Dimension.MASS: ("mg", "mcg", "g"),
    Dimension.VOLUME: ("mL", "L"),
    Dimension.TIME: ("min", "h", "s"),
    Dimension.MASS_RATE: ("mg/h", "mcg/h", "mg/min", "mcg/min"),
    Dimension.VOLUME_RATE: ("mL/h", "mL/min"),
    Dimension.CONCENTRATION: ("mg/mL", "mcg/mL", "g/L", "mg/L"),
    Dimension.WEIGHT: ("kg",),
    Dimension.FREQUENCY: ("/min",),
    Dimension.PERCENT: ("%",),
    Dimension.PRESSURE: ("mmHg",),
}

# The library's own list of units takes 30 times as long to load, and spells a microgram in ways that the
# error-prone lists forbid. These lines are all that the table above needs.
_DEFINITIONS = (
    "milli- = 1/1000 = m-",
    "micro- = 1/1000000 = mc-",
    "kilo- = 1000 = k-",
    "gram = [mass] = g",
    "liter = [volume] = L",
    "second = [time] = s",
    "minute = 60 * second = min",
    "hour = 60 * minute = h",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class WrittenUnit:
    """A unit as it may be written; `factor` makes one of it into the unit of its dimension."""

    dimension: Dimension
    factor: Fraction


def units_of(dimension: Dimension) -> tuple[str, ...]:
    """The ways in which the unit of such a quantity may be written, the usual one first."""
    return _WRITTEN[dimension]


@cache
def written_units() -> dict[str, WrittenUnit]:
    """Every unit that may be written; made once, at the first quantity, because loading Pint takes 0.1 s."""
    from pint import UnitRegistry  # noqa: PLC0415 - see above

    registry: UnitRegistry[Fraction] = UnitRegistry(None, non_int_type=Fraction)
    for line in _DEFINITIONS:
        registry.define(line)

    def factor(written: str, dimension: Dimension) -> Fraction:
        if written == dimension.value:
            return Fraction(1)
        return Fraction(registry.Quantity(Fraction(1), written).to(dimension.value).magnitude)

    return {
        written: WrittenUnit(dimension=dimension, factor=factor(written, dimension))
        for dimension, units in _WRITTEN.items()
        for written in units
    }
