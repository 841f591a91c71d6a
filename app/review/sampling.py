"""A random sample that anyone can draw again, and what it says of all that it was drawn from.

Of each stratum those are drawn whose id, after the seed and a line break, has the smallest SHA-256: in that
order, so that a sample of more begins with the sample of fewer.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256

from app.review.intervals import Interval, wilson_of


def rank_of(seed: str, drawn: str) -> str:
    """By what an id is drawn: the smallest first."""
    return sha256(f"{seed}\n{drawn}".encode()).hexdigest()


def draw(seed: str, strata: Mapping[str, Iterable[str]], each: int) -> dict[str, tuple[str, ...]]:
    """So many of each stratum in the order of drawing, or all where it has no more."""
    return {
        stratum: tuple(sorted(ids, key=lambda one: rank_of(seed, one))[:each])
        for stratum, ids in sorted(strata.items())
    }


def digest_of(drawn: Mapping[str, Iterable[str]]) -> str:
    """What tells one sample from another: SHA-256 of stratum and id, a line each, in the order of drawing."""
    lines = (f"{stratum} {one}\n" for stratum, ids in drawn.items() for one in ids)
    return sha256("".join(lines).encode()).hexdigest()


@dataclass(frozen=True, kw_only=True, slots=True)
class Stratum:
    """One stratum: of how many it was drawn, how many of the sample were judged, and of how many it holds."""

    size: int
    judged: int
    holds: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """The share over all strata, each weighted by its size, and between what and what it lies."""

    share: Fraction
    interval: Interval


def stratified(strata: Iterable[Stratum]) -> Estimate | None:
    """The stratified estimate; None while nothing was judged of some stratum, of which it would say nothing.

    Its variance is Cochran's (Sampling Techniques, 3rd edition 1977, 5.4), with the correction for a stratum
    of which much was drawn. The interval is Wilson's for the simple sample that would vary as much.
    """
    every = [each for each in strata if each.size]
    if not every or any(each.judged == 0 for each in every):
        return None
    whole = sum(each.size for each in every)
    share = sum(
        (Fraction(each.size, whole) * Fraction(each.holds, each.judged) for each in every), Fraction(0)
    )
    variance = sum((_variance(each, whole) for each in every), Fraction(0))
    simple = share * (1 - share) / variance if variance else Fraction(sum(each.judged for each in every))
    return Estimate(share=share, interval=wilson_of(float(share), float(simple)))


def _variance(each: Stratum, whole: int) -> Fraction:
    share, weight = Fraction(each.holds, each.judged), Fraction(each.size, whole)
    not_drawn = 1 - Fraction(each.judged, each.size)
    return weight * weight * not_drawn * share * (1 - share) / max(1, each.judged - 1)
