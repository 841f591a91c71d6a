"""What both missed: from what each of two independent readers caught, how much neither did.

Chapman's estimate stands on three assumptions: that the two read independently, that every error is as easy
to catch as any other, and that what was caught is an error. Where both are misled by one cause, the estimate
is too low.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import exp, log1p, sqrt

from app.review.distributions import normal_quantile
from app.review.intervals import Interval

LEAST_BY_BOTH = 7
"""With so many caught by both, the estimate has next to no bias of its own.

Robson and Regier, Trans Am Fish Soc 1964;93:215-26: from memory, to be checked.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Caught:
    """How many errors the first caught, the second, and both; `both` counts among each."""

    first: int
    second: int
    both: int

    @property
    def distinct(self) -> int:
        """How many were caught at all."""
        return self.first + self.second - self.both


@dataclass(frozen=True, kw_only=True, slots=True)
class Missed:
    """The estimate: how many errors there were, how many neither caught, and between what that lies."""

    caught: Caught
    errors: Fraction
    variance: Fraction
    missed: Fraction
    interval: Interval
    """Of what neither caught."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TooFewByBoth:
    """Fewer errors were caught by both than an estimate can stand on."""

    caught: Caught
    least: int = LEAST_BY_BOTH


@dataclass(frozen=True, kw_only=True, slots=True)
class NoneAlone:
    """One of the two caught nothing that the other did not: what the other may have missed is not seen."""

    caught: Caught


Estimate = Missed | TooFewByBoth | NoneAlone


def estimate_missed(caught: Caught) -> Estimate:
    """Chapman's estimate with its interval, or why there is none."""
    if caught.both < LEAST_BY_BOTH:
        return TooFewByBoth(caught=caught)
    if caught.both in {caught.first, caught.second}:
        return NoneAlone(caught=caught)
    errors, variance = chapman(caught), chapman_variance(caught)
    missed = errors - caught.distinct
    return Missed(
        caught=caught,
        errors=errors,
        variance=variance,
        missed=missed,
        interval=_interval(float(missed), float(variance)),
    )


def chapman(caught: Caught) -> Fraction:
    """How many errors there were in all."""
    return Fraction((caught.first + 1) * (caught.second + 1), caught.both + 1) - 1


def chapman_variance(caught: Caught) -> Fraction:
    """The variance of the estimate (Seber 1970)."""
    alone = (caught.first - caught.both) * (caught.second - caught.both)
    return Fraction(
        (caught.first + 1) * (caught.second + 1) * alone, (caught.both + 1) ** 2 * (caught.both + 2)
    )


def _interval(missed: float, variance: float) -> Interval:
    """Of the logarithm, so that no end lies below zero (Chao, Biometrics 1987;43:783-91)."""
    factor = exp(normal_quantile(0.975) * sqrt(log1p(variance / missed**2)))
    return Interval(low=missed / factor, high=missed * factor)
