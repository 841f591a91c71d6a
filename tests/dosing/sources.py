"""A source that states everything, sources with less, and their figures as bare numbers."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

from app.dosing import DoseMath, Limit, SetInUse, SourceSettings
from app.quantities import Quantity

IN_USE = SetInUse(prime_volume=Fraction(2), dead_volume=Fraction(1, 2))
FULL = SourceSettings(
    has_demands=True,
    has_continuous=True,
    concentration=Fraction(2),
    volume=Fraction(50),
    demand_dose=Fraction(1),
    lockout=Fraction(10),
    rate=Fraction(3),
    limits=(Limit(amount=Fraction(20), window=Fraction(240)),),
    limits_read=True,
    loading=Fraction(4),
    carrier_rate=Fraction(10),
)
DEMAND = replace(FULL, has_continuous=False, rate=None)
CONTINUOUS = replace(FULL, has_demands=False, demand_dose=None, lockout=None)
NO_MODE = replace(FULL, has_demands=False, has_continuous=False, mode_known=False)


def plain(math: DoseMath) -> dict[str, Any]:
    """The figures as bare numbers."""
    numbers: dict[str, Any] = {}
    for name in math.__slots__:
        figure = getattr(math, name)
        if isinstance(figure, Quantity):
            numbers[name] = str(figure.value)
        elif figure is None or isinstance(figure, int):
            numbers[name] = figure
        elif isinstance(figure, tuple):
            numbers[name] = [str(each.value) for each in figure] or None
        else:
            numbers[name] = tuple(str(each.value) for each in (figure.hour, figure.four_hours, figure.day))
    return numbers
