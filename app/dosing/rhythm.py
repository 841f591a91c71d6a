"""The model pump at full use under several limits: demands are stepped through until they repeat themselves.

Once the longest window is full, the next demand depends only on those in it: it waits for the lockout after
the last one, and for each limit for a full window after the one as many places before it as any window can
hold. The slowest of these rules alone sets the pace in the end: from some demand on each comes one turn of it
(`_Turn`) after an earlier one, and everything else is counted by turns.

Inside, times and amounts are whole numbers of small parts, because fractions would take most of the time.
"""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from math import floor, lcm

from app.dosing.pump_settings import Limit


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rule:
    """One limit: its window, and how many demands any window after the first can hold."""

    window: int
    amount: int
    capacity: int


@dataclass(frozen=True, kw_only=True, slots=True)
class _Turn:
    """So many demands in so long a time, again and again."""

    demands: int
    time: int


class Rhythm:
    """Every demand granted when the button is pressed at every instant from time 0 on."""

    def __init__(
        self, *, demand_dose: Fraction, lockout: Fraction, counted_rate: Fraction, limits: tuple[Limit, ...]
    ) -> None:
        self._parts = lcm(lockout.denominator, *(limit.window.denominator for limit in limits))
        rate = counted_rate / self._parts
        grains = lcm(
            demand_dose.denominator, rate.denominator, *(limit.amount.denominator for limit in limits)
        )
        self._lockout = int(lockout * self._parts)
        self._dose, self._rate = int(demand_dose * grains), int(rate * grains)
        self._rules = [self._rule(limit, grains) for limit in limits]
        self._longest_window = max(rule.window for rule in self._rules)
        self._holds = max(rule.capacity for rule in self._rules)
        turns = [_Turn(demands=rule.capacity, time=rule.window) for rule in self._rules if rule.capacity]
        slowest = [_Turn(demands=1, time=self._lockout), *turns]
        self._turn = max(slowest, key=lambda turn: Fraction(turn.time, turn.demands))
        self._granted: list[int] = []
        self._in_step = 0
        """How many of the last demands came exactly one turn after the one before."""
        self._is_over = False

    def count_through(self, time: Fraction) -> int:
        """How many demands are granted in [0, time]."""
        end = floor(time * self._parts)
        self._step_until(end)
        if not self._granted or end < self._granted[-1] or self._is_over:
            return bisect_right(self._granted, end)
        first = len(self._granted) - self._turn.demands
        turns = (end - self._granted[first]) // self._turn.time
        within = bisect_right(self._granted, end - turns * self._turn.time, lo=first)
        return within + turns * self._turn.demands

    def first_not_whole(
        self, dose: Fraction, rate: Fraction, drug: Fraction, *, before: Fraction
    ) -> tuple[int, Fraction | None]:
        """How many demands so much drug lasts for, and when the next is granted; None: not before then."""
        granted = self.count_through(before)
        # The first whose own dose, with all that came before it, is more than there is: found by halving.
        fits, too_many = 0, granted
        while fits < too_many:
            middle = (fits + too_many) // 2
            if (middle + 1) * dose + rate * self._time_of(middle) > drug:
                too_many = middle
            else:
                fits = middle + 1
        return fits, self._time_of(fits) if fits < granted else None

    def _time_of(self, number: int) -> Fraction:
        """When the demand of this number (from 0 on) is granted; it must be one that has been counted."""
        turns = 0
        if number >= len(self._granted):
            turns = -((len(self._granted) - 1 - number) // self._turn.demands)
        time = self._granted[number - turns * self._turn.demands] + turns * self._turn.time
        return Fraction(time, self._parts)

    def _rule(self, limit: Limit, grains: int) -> _Rule:
        window, amount = int(limit.window * self._parts), int(limit.amount * grains)
        capacity = max(0, (amount - self._rate * window) // self._dose)
        return _Rule(window=window, amount=amount, capacity=capacity)

    def _step_until(self, end: int) -> None:
        """Steps on until a time is passed, no more demands are granted, or all repeats itself."""
        granted, turn = self._granted, self._turn
        while not self._is_over and self._in_step < self._holds + turn.demands:
            if granted and granted[-1] > end:
                return
            following = self._find_next()
            if following is None:
                self._is_over = True
                return
            granted.append(following)
            before = len(granted) - 1 - turn.demands
            steady = before >= 0 and granted[before] >= self._longest_window
            in_step = steady and following - granted[before] == turn.time
            self._in_step = self._in_step + 1 if in_step else 0

    def _find_next(self) -> int | None:
        """When lockout and all limits let the next demand through; None for never."""
        time, earlier = (self._granted[-1] + self._lockout if self._granted else 0), -1
        # Waiting for one limit can make another wait: the continuous part goes on being counted.
        while time > earlier:
            earlier = time
            for rule in self._rules:
                let_through = self._find_earliest(rule, time)
                if let_through is None:
                    return None
                time = let_through
        return time

    def _find_earliest(self, rule: _Rule, time: int) -> int | None:
        """When one limit lets the next demand through, from a time on; None for never."""
        number = len(self._granted)
        if time < rule.window:
            if (number + 1) * self._dose + self._rate * time <= rule.amount:
                return time
            time = rule.window
        if not rule.capacity:
            return None
        return (
            time if number < rule.capacity else max(time, self._granted[number - rule.capacity] + rule.window)
        )
