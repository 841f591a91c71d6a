"""Control charts of rare events: how many checks, or how much time, lies between one and the next.

Where an event is rare, most months have none and a share says nothing. The limits are those of the geometric
and the exponential distribution, 0.135 % on each side, the centre is the median. Below the lower limit events
come faster than chance, above the upper one slower: of errors the first is the bad news.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, log, log1p

from app.review.charts import TAIL, TooFewPoints
from app.review.signals import RUN, Signal, in_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Gap:
    """What lies between two events, with the name of the later one."""

    name: str
    length: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class GapPoint:
    """A gap on its chart."""

    gap: Gap
    signals: tuple[Signal, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class BetweenChart:
    """A chart: mean, median and limits, which are the same for each gap, and the gaps in order."""

    mean: Fraction
    median: float
    low: float
    high: float
    points: tuple[GapPoint, ...]

    @property
    def out(self) -> tuple[GapPoint, ...]:
        """The gaps that are out of control."""
        return tuple(each for each in self.points if each.signals)


def g_chart(gaps: Sequence[tuple[str, int]]) -> BetweenChart | TooFewPoints:
    """Of how many without the event lie between two with it, counted."""
    if len(gaps) < RUN:
        return TooFewPoints(points=len(gaps))
    mean = Fraction(sum(count for _, count in gaps), len(gaps))
    limits = tuple(map(float, _geometric(mean)))
    return _chart([Gap(name=name, length=Fraction(count)) for name, count in gaps], mean, limits)


def t_chart(gaps: Sequence[Gap]) -> BetweenChart | TooFewPoints:
    """Of how much time lies between two events, in any measure."""
    if len(gaps) < RUN:
        return TooFewPoints(points=len(gaps))
    mean = sum((each.length for each in gaps), Fraction(0)) / len(gaps)
    limits = tuple(-float(mean) * log1p(-share) for share in (TAIL, 0.5, 1 - TAIL))
    return _chart(gaps, mean, limits)


def _geometric(mean: Fraction) -> tuple[int, int, int]:
    """Low limit, median and high limit of counts with so many on average; of none, all are zero."""
    if mean == 0:
        return 0, 0, 0
    # The chance of k or more is q ** k.
    step = log(mean / (mean + 1))
    low = floor(log1p(-TAIL) / step)
    high = max(0, ceil(log(TAIL) / step) - 1)
    median = max(0, ceil(log(0.5) / step) - 1)
    return low, median, high


def _chart(gaps: Sequence[Gap], mean: Fraction, limits: Sequence[float]) -> BetweenChart:
    low, median, high = limits
    values = [each.length for each in gaps]
    rows = in_rows(values, [(each > median) - (each < median) for each in values])
    points = []
    for gap, row in zip(gaps, rows, strict=True):
        beyond = ((Signal.ABOVE, gap.length > high), (Signal.BELOW, gap.length < low))
        signals = (*(signal for signal, is_so in beyond if is_so), *row)
        points.append(GapPoint(gap=gap, signals=signals))
    return BetweenChart(mean=mean, median=median, low=low, high=high, points=tuple(points))
