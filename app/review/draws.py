"""Chance that anyone can draw again: from a stated seed the same numbers, in any version of anything."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from fractions import Fraction
from hashlib import sha256
from itertools import accumulate
from typing import TypeVar

_T = TypeVar("_T")
_BYTES = 8


class Draws:
    """The numbers that follow from a seed: SHA-256 of the seed, a line break and 0, 1, 2 … in decimals.

    Of each digest the first eight bytes count, as one number, the greatest digit first.
    """

    def __init__(self, seed: str) -> None:
        self._seed = seed
        self._next = 0

    def below(self, end: int) -> int:
        """A number from 0 on, below the end, each as likely as any other."""
        whole = 1 << (8 * _BYTES)
        most = whole - whole % end
        while (drawn := self._number()) >= most:
            continue
        return drawn % end

    def happens(self, chance: Fraction) -> bool:
        """Whether what has this chance happens."""
        return self.below(chance.denominator) < chance.numerator

    def one_of(self, things: Sequence[_T]) -> _T:
        """One of several, each as likely as any other."""
        return things[self.below(len(things))]

    def weighted(self, weights: Mapping[_T, int]) -> _T:
        """One of several, as likely as its weight."""
        ends = list(accumulate(weights.values()))
        return list(weights)[bisect_right(ends, self.below(ends[-1]))]

    def _number(self) -> int:
        digest = sha256(f"{self._seed}\n{self._next}".encode()).digest()
        self._next += 1
        return int.from_bytes(digest[:_BYTES], "big")
