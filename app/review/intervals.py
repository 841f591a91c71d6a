"""Between what and what a share or a rate lies, in 95 of 100 such samples."""

from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from app.review.distributions import beta_quantile, gamma_quantile, normal_quantile

_BELOW = 0.025
"""What an interval leaves out on each side."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """From low to high."""

    low: float
    high: float

    def times(self, factor: float) -> "Interval":
        """The same in another measure."""
        return Interval(low=self.low * factor, high=self.high * factor)

    def holds(self, value: float) -> bool:
        """Whether a value lies in it, the ends included."""
        return self.low <= value <= self.high


@dataclass(frozen=True, kw_only=True, slots=True)
class Share:
    """So many of so many: a count that is never more than what it is of, which is not zero."""

    count: int
    of: int

    def __post_init__(self) -> None:
        """A share of nothing is a bug of whoever asks: *none yet* is said before."""
        if not 0 <= self.count <= self.of or self.of == 0:
            message = f"{self.count} of {self.of} is no share"
            raise ValueError(message)

    @property
    def value(self) -> Fraction:
        """The share itself."""
        return Fraction(self.count, self.of)


def wilson(share: Share) -> Interval:
    """Wilson's interval of a share, without continuity correction: it holds also near 0 and 1."""
    return wilson_of(share.count / share.of, share.of)


def wilson_of(p: float, n: float) -> Interval:
    """The same of a share that is no plain count: of how many it is may be no whole number either."""
    z = normal_quantile(1 - _BELOW)
    middle = p + z * z / (2 * n)
    half = z * sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    whole = 1 + z * z / n
    low = 0.0 if p == 0 else (middle - half) / whole
    high = 1.0 if p == 1 else (middle + half) / whole
    return Interval(low=low, high=high)


def exact_share(share: Share) -> Interval:
    """The exact interval of a share, by the binomial distribution (Clopper and Pearson)."""
    k, n = share.count, share.of
    return Interval(
        low=0.0 if k == 0 else beta_quantile(_BELOW, k, n - k + 1),
        high=1.0 if k == n else beta_quantile(1 - _BELOW, k + 1, n - k),
    )


def exact_count(count: int) -> Interval:
    """The exact interval of how many events are to be expected where so many were seen (Poisson)."""
    return Interval(
        low=0.0 if count == 0 else gamma_quantile(_BELOW, count),
        high=gamma_quantile(1 - _BELOW, count + 1),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Rate:
    """Events for each 1,000 of something that is named: a rate without its denominator says nothing.

    `interval`: by the Poisson distribution, exact at any count.
    """

    events: int
    of: int
    named: str

    @property
    def per_1000(self) -> Fraction:
        """The rate."""
        return Fraction(1000 * self.events, self.of)

    @property
    def interval(self) -> Interval:
        """Between what and what it lies."""
        return exact_count(self.events).times(1000 / self.of)
