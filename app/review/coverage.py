"""How often the interval of what both missed holds the truth, where its assumptions hold and where not."""

from dataclasses import dataclass
from fractions import Fraction

from app.review.draws import Draws
from app.review.errors import Error
from app.review.missed import Caught, Missed, estimate_missed
from app.review.mixes import ALONE

EQUAL = Fraction(9, 20)
"""Where all errors are as easy to find as any other: the middle of what is published, as in `mixes`."""


@dataclass(frozen=True, kw_only=True)
class Condition:
    """Whether all errors are equally easy to find, and how often one cause rules both readers."""

    equal: bool
    shared: Fraction


@dataclass(frozen=True, kw_only=True)
class Tried:
    """Estimates from one number to before another, each of so many errors."""

    condition: Condition
    seed: str
    first: int
    end: int
    errors: int


@dataclass(frozen=True, kw_only=True)
class Covered:
    """Of so many tries: how many gave no estimate, and how many intervals held what both had missed.

    `estimated` and `missed` are sums over all tries that gave one.
    """

    tried: int
    refused: int
    held: int
    estimated: Fraction
    missed: int

    @property
    def given(self) -> int:
        """How many gave an estimate."""
        return self.tried - self.refused

    def __add__(self, other: "Covered") -> "Covered":
        return Covered(
            tried=self.tried + other.tried,
            refused=self.refused + other.refused,
            held=self.held + other.held,
            estimated=self.estimated + other.estimated,
            missed=self.missed + other.missed,
        )


NONE_TRIED = Covered(tried=0, refused=0, held=0, estimated=Fraction(0), missed=0)


def cover(tried: Tried) -> Covered:
    """What the estimates come to."""
    sum_of = NONE_TRIED
    for number in range(tried.first, tried.end):
        sum_of += _one(tried, Draws(f"{tried.seed} estimate {number}"))
    return sum_of


def _one(tried: Tried, draws: Draws) -> Covered:
    caught = _caught(tried, draws)
    found, missed = estimate_missed(caught), tried.errors - caught.distinct
    if not isinstance(found, Missed):
        return Covered(tried=1, refused=1, held=0, estimated=Fraction(0), missed=0)
    return Covered(
        tried=1,
        refused=0,
        held=int(found.interval.holds(missed)),
        estimated=found.missed,
        missed=missed,
    )


def _caught(tried: Tried, draws: Draws) -> Caught:
    first = second = both = 0
    kinds = tuple(Error)
    for _ in range(tried.errors):
        chance = EQUAL if tried.condition.equal else ALONE[draws.one_of(kinds)].share
        by_first, by_second = draws.happens(chance), draws.happens(chance)
        if draws.happens(tried.condition.shared):
            by_second = by_first
        first, second, both = first + by_first, second + by_second, both + (by_first and by_second)
    return Caught(first=first, second=second, both=both)
