"""How far two honest accounts of one fluid can be apart: the budget of a stage, in mL."""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from enum import StrEnum
from fractions import Fraction
from functools import cached_property

from app.accounting.case import Policy
from app.accounting.sums import total

_NOTHING = Fraction(0)
# ISO 7886-1, tolerance of the graduated capacity, for barrels from this size on and for smaller ones: below
# half of the size a share of the size and of what was expelled, from there on of what was expelled alone.
_LARGE = 5
_OF_SIZE = Fraction(15, 1000)
_OF_LARGE, _OF_SMALL = Fraction(1, 100), Fraction(2, 100)
_OF_LARGE_FROM_HALF, _OF_SMALL_FROM_HALF = Fraction(4, 100), Fraction(5, 100)


class Verdict(StrEnum):
    """What a difference comes to beside its budget."""

    BALANCES = "balances"
    WITHIN = "within-tolerance"
    UNEXPLAINED = "unexplained"
    DOES_NOT_FIT = "does-not-fit"


@dataclass(frozen=True, kw_only=True)
class Budget:
    """The parts of what can differ though nothing is gone."""

    fill: Fraction = _NOTHING
    prime: Fraction = _NOTHING
    device: Fraction = _NOTHING
    display: Fraction = _NOTHING
    graduation: Fraction = _NOTHING
    reading: Fraction = _NOTHING

    def parts(self) -> dict[str, Fraction]:
        """By name, in order."""
        return {name: getattr(self, name) for name in PARTS}

    @cached_property
    def worst_case(self) -> Fraction:
        """Their sum."""
        return total(self.parts().values())

    @cached_property
    def square(self) -> Fraction:
        """The sum of their squares."""
        return total(part * part for part in self.parts().values() if part)

    def allows(self, difference: Fraction, policy: Policy) -> bool:
        """Whether a difference is inside what the site allows."""
        if abs(difference) <= policy.at_least:
            return True
        if policy.root_decides:
            return difference * difference <= self.square
        return abs(difference) <= self.worst_case


PARTS = tuple(field.name for field in fields(Budget))


def add_up(budgets: Iterable[Budget]) -> Budget:
    """Parts of one name together."""
    each = list(budgets)
    if len(each) == 1:
        return each[0]
    return Budget(**{name: total(getattr(one, name) for one in each) for name in PARTS})


def graduation_tolerance(size: Fraction, volume: Fraction) -> Fraction:
    """How far the scale of a barrel of this size can be off at this volume (ISO 7886-1)."""
    is_large = size >= _LARGE
    if volume * 2 < size:
        return _OF_SIZE * size + (_OF_LARGE if is_large else _OF_SMALL) * volume
    return (_OF_LARGE_FROM_HALF if is_large else _OF_SMALL_FROM_HALF) * volume


@dataclass(frozen=True, kw_only=True, slots=True)
class Stage:
    """What is not explained in one stage, in mL, how much of it may be, and what it comes to."""

    volume: Fraction
    budget: Budget
    verdict: Verdict


def stage_of(volume: Fraction, budget: Budget, policy: Policy, *, is_closed: bool) -> Stage:
    """The stage, judged."""
    if not volume:
        verdict = Verdict.BALANCES
    elif budget.allows(volume, policy):
        verdict = Verdict.WITHIN
    else:
        verdict = Verdict.UNEXPLAINED if is_closed else Verdict.DOES_NOT_FIT
    return Stage(volume=volume, budget=budget, verdict=verdict)
