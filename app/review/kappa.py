"""How far two who judged the same agree, beyond what chance would make of it (Cohen's kappa)."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from app.review.distributions import normal_quantile
from app.review.intervals import Interval

UNSTABLE_FROM = Fraction(9, 10)
"""From this agreement by chance on a few judgements move kappa far: common practice, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreement:
    """Kappa, with the table that it comes from: a row for what the first said, a column for the second.

    `error` is the large-sample standard error of Fleiss, Cohen and Everitt. `by_chance` near 1: read the
    table, not kappa.
    """

    table: tuple[tuple[int, ...], ...]
    alike: Fraction
    by_chance: Fraction
    kappa: Fraction
    error: float

    @property
    def interval(self) -> Interval:
        """Between what and what kappa lies; never above 1."""
        half = normal_quantile(0.975) * self.error
        return Interval(low=max(-1.0, float(self.kappa) - half), high=min(1.0, float(self.kappa) + half))

    @property
    def is_unstable(self) -> bool:
        """Whether so much agreement is by chance that kappa says little."""
        return self.by_chance >= UNSTABLE_FROM


@dataclass(frozen=True, kw_only=True, slots=True)
class NoKappa:
    """Nothing was judged by both, or both said one and the same of everything: nothing is left to chance."""

    table: tuple[tuple[int, ...], ...]


def agreement(table: Sequence[Sequence[int]]) -> Agreement | NoKappa:
    """The agreement in a square table of counts."""
    kept = tuple(tuple(row) for row in table)
    total = sum(map(sum, kept))
    if total == 0:
        return NoKappa(table=kept)
    share = [[Fraction(each, total) for each in row] for row in kept]
    size = range(len(share))
    rows = [sum(share[i], Fraction(0)) for i in size]
    columns = [sum((share[i][j] for i in size), Fraction(0)) for j in size]
    alike = sum((share[i][i] for i in size), Fraction(0))
    by_chance = sum((rows[i] * columns[i] for i in size), Fraction(0))
    if by_chance == 1:
        return NoKappa(table=kept)
    # Fleiss, Cohen and Everitt, Psychol Bull 1969;72:323-7.
    same = sum(
        (share[i][i] * ((1 - by_chance) - (rows[i] + columns[i]) * (1 - alike)) ** 2 for i in size),
        Fraction(0),
    )
    apart = sum(
        (share[i][j] * (columns[i] + rows[j]) ** 2 for i in size for j in size if i != j), Fraction(0)
    )
    spent = (alike * by_chance - 2 * by_chance + alike) ** 2
    variance = (same + (1 - alike) ** 2 * apart - spent) / (total * (1 - by_chance) ** 4)
    return Agreement(
        table=kept,
        alike=alike,
        by_chance=by_chance,
        kappa=(alike - by_chance) / (1 - by_chance),
        error=sqrt(variance),
    )
