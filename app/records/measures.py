"""What a number that is read can be: its dimension, its bounds, and the few units that the trade uses."""

from dataclasses import dataclass
from fractions import Fraction

from app.quantities import Dimension, Range


# Each measure is one object: a text is read once for each measure, found again by identity.
@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Measure:
    """Which quantities a field can hold; one unit alone is no choice, and without any no form asks for it.

    `or_else`: what it may be measured in instead, as a dose on a device that takes doses as volumes.
    """

    dimension: Dimension
    units: tuple[str, ...] = ()
    zero_allowed: bool = False
    allowed: Range | None = None
    or_else: "Measure | None" = None

    def counted_in(self, unit: str) -> "Measure":
        """What a number in this unit is measured by."""
        return self if self.or_else is None or unit in self.units else self.or_else


_HOUR = Fraction(60)
_DAY = Fraction(24 * 60)

MASS = Measure(dimension=Dimension.MASS, units=("mg", "mcg"))
VOLUME = Measure(dimension=Dimension.VOLUME, units=("mL",))
# What a device shows as given, or a barrel as left, may be nothing.
TOTAL_MASS = Measure(dimension=Dimension.MASS, units=("mg", "mcg"), zero_allowed=True)
TOTAL_VOLUME = Measure(dimension=Dimension.VOLUME, units=("mL",), zero_allowed=True)
VOLUME_RATE_OR_NONE = Measure(dimension=Dimension.VOLUME_RATE, units=("mL/h",), zero_allowed=True)
MASS_OR_VOLUME = Measure(dimension=Dimension.MASS, units=("mg", "mcg"), or_else=VOLUME)
CONCENTRATION = Measure(dimension=Dimension.CONCENTRATION, units=("mg/mL", "mcg/mL"))
LOCKOUT = Measure(dimension=Dimension.TIME, units=("min", "h"), allowed=Range(least=Fraction(1), most=_DAY))
WINDOW = Measure(dimension=Dimension.TIME, units=("h", "min"), allowed=Range(least=_HOUR, most=_DAY))
APNEA_TIME = Measure(dimension=Dimension.TIME, units=("s",))
CONTINUOUS_RATE = Measure(dimension=Dimension.MASS_RATE, units=("mg/h", "mcg/h"), zero_allowed=True)
RATE_IN_MASS_OR_VOLUME = Measure(
    dimension=Dimension.MASS_RATE,
    units=("mg/h", "mcg/h"),
    zero_allowed=True,
    or_else=VOLUME_RATE_OR_NONE,
)
CARRIER_RATE = Measure(dimension=Dimension.VOLUME_RATE, units=("mL/h",))
FREQUENCY = Measure(dimension=Dimension.FREQUENCY, units=("/min",))
BREATHS = Measure(dimension=Dimension.FREQUENCY, units=("/min",), zero_allowed=True)
PERCENT = Measure(dimension=Dimension.PERCENT, units=("%",))
PRESSURE = Measure(dimension=Dimension.PRESSURE, units=("mmHg",))
WEIGHT = Measure(dimension=Dimension.WEIGHT, units=("kg",))
