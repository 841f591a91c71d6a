"""Control charts of single figures, which may lie below zero: each held against the usual step between two.

The limits lie 3 / 1.128 of the mean step from one figure to the next on each side of the mean: what three
standard deviations would be if nothing but chance moved them. They are exact, as the figures are.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from app.review.charts import TooFewPoints
from app.review.signals import RUN, Signal, in_rows

_D2 = Fraction("1.128")
"""What the mean range of two is, in standard deviations."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Single:
    """A figure on its chart."""

    name: str
    value: Fraction
    signals: tuple[Signal, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SinglesChart:
    """A chart: median, mean and limits, which are the same for each, and the figures in order.

    A few large figures pull the mean away from where most lie: what lies in a row on one side is held against
    the median.
    """

    mean: Fraction
    median: Fraction
    low: Fraction
    high: Fraction
    points: tuple[Single, ...]

    @property
    def out(self) -> tuple[Single, ...]:
        """The figures that are out of control."""
        return tuple(each for each in self.points if each.signals)


def singles_chart(figures: Sequence[tuple[str, Fraction]]) -> SinglesChart | TooFewPoints:
    """Of figures in the order in which they came, each with its name."""
    if len(figures) < RUN:
        return TooFewPoints(points=len(figures))
    values = [value for _, value in figures]
    mean = sum(values, Fraction(0)) / len(values)
    step = sum((abs(after - before) for before, after in pairwise(values)), Fraction(0)) / (len(values) - 1)
    low, high = mean - 3 * step / _D2, mean + 3 * step / _D2
    median = Fraction(statistics.median(values))
    rows = in_rows(values, [(each > median) - (each < median) for each in values])
    points = []
    for (name, value), row in zip(figures, rows, strict=True):
        beyond = ((Signal.ABOVE, value > high), (Signal.BELOW, value < low))
        signals = (*(signal for signal, is_so in beyond if is_so), *row)
        points.append(Single(name=name, value=value, signals=signals))
    return SinglesChart(mean=mean, median=median, low=low, high=high, points=tuple(points))
