"""Control charts of shares and rates (p, u and c), each subgroup with limits by its own size.

Limits are three standard deviations from the centre, the lower one never below zero. Where fewer than about
five events are expected in a subgroup these mean nothing, and its limits are exact: counts beyond which no
more than 0.135 % lies by the binomial or Poisson distribution. Decisions are made in whole numbers and
fractions; only what is drawn is floating.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import sqrt

from app.review.distributions import binomial_above, binomial_up_to, poisson_above, poisson_up_to
from app.review.signals import LIMITS, RUN, Signal, in_rows

EXACT_BELOW = 5
"""So many expected events: common practice, no source."""
TAIL = 0.00135
"""What lies beyond three standard deviations of a normal distribution, on one side."""
_LEAST_POINTS = RUN
_LEAST_EVENTS = 5


class Kind(StrEnum):
    """What is charted."""

    SHARE = "p"
    """Of so many, so many have it: each at most once."""
    RATE = "u"
    """Events for each unit; a unit may have several."""
    COUNT = "c"
    """Events in subgroups of one size."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Subgroup:
    """What was counted of one month, unit or batch, and out of how much; `size` above zero."""

    name: str
    count: int
    size: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """A subgroup on its chart; `is_exact`: whether its limits are exact counts."""

    subgroup: Subgroup
    low: float
    high: float
    is_exact: bool
    signals: tuple[Signal, ...]

    @property
    def value(self) -> Fraction:
        """What is drawn."""
        return self.subgroup.count / self.subgroup.size


@dataclass(frozen=True, kw_only=True, slots=True)
class Chart:
    """A chart: the centre, and the points in order."""

    kind: Kind
    centre: Fraction
    points: tuple[Point, ...]

    @property
    def out(self) -> tuple[Point, ...]:
        """The points that are out of control."""
        return tuple(each for each in self.points if each.signals)


@dataclass(frozen=True, kw_only=True, slots=True)
class TooFewPoints:
    """Fewer points than a run needs: limits from these would say nothing."""

    points: int
    least: int = _LEAST_POINTS


@dataclass(frozen=True, kw_only=True, slots=True)
class TooFewEvents:
    """So few events in all that only the time between them says something."""

    events: int
    least: int = _LEAST_EVENTS


@dataclass(frozen=True, kw_only=True, slots=True)
class TooSmall:
    """Each subgroup is so small that all of it, and none of it, lies within its limits."""


TooFew = TooFewPoints | TooFewEvents | TooSmall


def p_chart(subgroups: Sequence[Subgroup]) -> Chart | TooFew:
    """Of shares: how many of the subgroup have it."""
    few = _enough(subgroups)
    if few is not None:
        return few
    chart = _chart(Kind.SHARE, subgroups)
    says_nothing = all(each.low <= 0 and each.high >= 1 and not each.signals for each in chart.points)
    return TooSmall() if says_nothing else chart


def side_by_side(subgroups: Sequence[Subgroup]) -> Chart | TooFew:
    """Of shares of things that stand in no order, as devices: only the limits speak."""
    found = p_chart(subgroups)
    if not isinstance(found, Chart):
        return found
    points = tuple(
        replace(each, signals=tuple(signal for signal in each.signals if signal in LIMITS))
        for each in found.points
    )
    return replace(found, points=points)


def u_chart(subgroups: Sequence[Subgroup]) -> Chart | TooFewPoints | TooFewEvents:
    """Of rates: how many events for each unit of the subgroup's size."""
    return _enough(subgroups) or _chart(Kind.RATE, subgroups)


def c_chart(counts: Iterable[tuple[str, int]]) -> Chart | TooFewPoints | TooFewEvents:
    """Of counts in subgroups of one size."""
    subgroups = [Subgroup(name=name, count=count, size=Fraction(1)) for name, count in counts]
    return _enough(subgroups) or _chart(Kind.COUNT, subgroups)


def _enough(subgroups: Sequence[Subgroup]) -> TooFewPoints | TooFewEvents | None:
    if len(subgroups) < _LEAST_POINTS:
        return TooFewPoints(points=len(subgroups))
    events = sum(each.count for each in subgroups)
    return TooFewEvents(events=events) if events < _LEAST_EVENTS else None


def _chart(kind: Kind, subgroups: Sequence[Subgroup]) -> Chart:
    size = sum((each.size for each in subgroups), Fraction(0))
    centre = sum(each.count for each in subgroups) / size
    values = [each.count / each.size for each in subgroups]
    rows = in_rows(values, [(each > centre) - (each < centre) for each in values])
    return Chart(
        kind=kind,
        centre=centre,
        points=tuple(_point(kind, centre, each, row) for each, row in zip(subgroups, rows, strict=True)),
    )


def _point(kind: Kind, centre: Fraction, subgroup: Subgroup, rows: tuple[Signal, ...]) -> Point:
    is_share = kind is Kind.SHARE
    expected = subgroup.size * min(centre, 1 - centre) if is_share else subgroup.size * centre
    if expected < EXACT_BELOW:
        return _exact_point(subgroup, _tails(kind, centre, subgroup), rows)
    variance = (centre * (1 - centre) if is_share else centre) / subgroup.size
    off = subgroup.count / subgroup.size - centre
    # Squared, and so without a root: a point on the limit is told from one beyond it.
    beyond = off * off > 9 * variance
    reach = 3 * sqrt(variance)
    signals = ((Signal.ABOVE if off > 0 else Signal.BELOW),) if beyond else ()
    return Point(
        subgroup=subgroup,
        low=max(0.0, float(centre) - reach),
        high=min(1.0, float(centre) + reach) if is_share else float(centre) + reach,
        is_exact=False,
        signals=(*signals, *rows),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Tails:
    """The chance of at most a count, and of more than it; `most` is the greatest that can be."""

    up_to: Callable[[int], float]
    above: Callable[[int], float]
    most: int | None


def _tails(kind: Kind, centre: Fraction, subgroup: Subgroup) -> _Tails:
    if kind is Kind.SHARE:
        of, share = int(subgroup.size), float(centre)
        return _Tails(
            up_to=lambda count: binomial_up_to(count, of, share),
            above=lambda count: binomial_above(count, of, share),
            most=of,
        )
    mean = float(centre * subgroup.size)
    return _Tails(
        up_to=lambda count: poisson_up_to(count, mean),
        above=lambda count: poisson_above(count, mean),
        most=None,
    )


def _exact_point(subgroup: Subgroup, tails: _Tails, rows: tuple[Signal, ...]) -> Point:
    low, high = _lowest(tails), _highest(tails)
    beyond = ((Signal.ABOVE, subgroup.count > high), (Signal.BELOW, subgroup.count < low))
    return Point(
        subgroup=subgroup,
        low=float(low / subgroup.size),
        high=float(high / subgroup.size),
        is_exact=True,
        signals=(*(signal for signal, is_so in beyond if is_so), *rows),
    )


def _highest(tails: _Tails) -> int:
    """The least count beyond which no more than the tail lies."""
    count = 0
    while count != tails.most and tails.above(count) > TAIL:
        count += 1
    return count


def _lowest(tails: _Tails) -> int:
    """The greatest count below which no more than the tail lies."""
    count = 0
    while count != tails.most and tails.up_to(count) <= TAIL:
        count += 1
    return count
