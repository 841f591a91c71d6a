"""Which few of many kinds make most of the whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """One kind: how often, and what share it makes together with all that are more frequent."""

    kind: str
    count: int
    together: Fraction


def pareto(counts: Mapping[str, int]) -> tuple[Bar, ...]:
    """The kinds, the most frequent first, of equally frequent ones by name; what never was is left out."""
    found = sorted(((-count, kind) for kind, count in counts.items() if count))
    sums = list(accumulate(-count for count, _ in found))
    return tuple(
        Bar(kind=kind, count=-count, together=Fraction(so_far, sums[-1]))
        for (count, kind), so_far in zip(found, sums, strict=True)
    )
