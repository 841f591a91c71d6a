"""How long something takes: the middle, and what nine of ten stay below."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import floor


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread:
    """Of so many durations, in seconds: half stay below `median`, and nine of ten below `ninth`."""

    count: int
    median: Fraction
    quarters: tuple[Fraction, Fraction]
    ninth: Fraction


def spread(seconds: Iterable[int]) -> Spread | None:
    """How some durations lie; None where there is none."""
    found = sorted(seconds)
    if not found:
        return None
    return Spread(
        count=len(found),
        median=_quantile(found, Fraction(1, 2)),
        quarters=(_quantile(found, Fraction(1, 4)), _quantile(found, Fraction(3, 4))),
        ninth=_quantile(found, Fraction(9, 10)),
    )


def _quantile(ordered: list[int], share: Fraction) -> Fraction:
    """Between the two nearest in proportion (type 7 of Hyndman and Fan, what most programs say)."""
    place = share * (len(ordered) - 1)
    below = floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])
