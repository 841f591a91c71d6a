"""The model pump at full use under several limits at once: demand by demand, until all repeats itself.

Once the longest window is full, the next demand depends only on those in it: it waits for the lockout after
the last one, and for each limit for a full window after the one as many places before it as any window can
hold. The slowest of these rules alone sets the pace in the end: from some demand on each comes one turn of it
(`_Turn`) after an earlier one, and everything else is counted by turns.

Times in min from the start of the infusion, amounts in mg, rates in mg/min; all exact. Inside, times and
amounts are whole numbers of small parts: fractions would take most of a comparison's time.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, lcm

from app.dosing.pump_settings import Limit, PumpSettings


@dataclass(frozen=True, kw_only=True, slots=True)
class _Turn:
    """So many demands in so long a time, again and again."""

    demands: int
    time: int


class GrantsByStep:
    """Every demand granted at full use, worked out one by one and only as far as somebody asks."""

    def __init__(self, settings: PumpSettings) -> None:
        self.lockout = settings.lockout
        self._parts = lcm(
            settings.lockout.denominator, *(limit.window.denominator for limit in settings.limits)
        )
        rate = settings.rate / self._parts
        self._grains = lcm(
            *(value.denominator for value in (settings.demand_dose, settings.loading, rate)),
            *(limit.amount.denominator for limit in settings.limits),
        )
        self._wait = self._time(settings.lockout)
        self._dose = int(settings.demand_dose * self._grains)
        self._rate = int(rate * self._grains)
        self._rules = [self._rule(settings, limit) for limit in settings.limits]
        self._longest_window = max(rule.window for rule in self._rules)
        turns = [_Turn(demands=rule.capacity, time=rule.window) for rule in self._rules if rule.capacity]
        slowest = [_Turn(demands=1, time=self._wait), *turns]
        self._turn = max(slowest, key=lambda turn: Fraction(turn.time, turn.demands))
        self._steady_at = max(rule.capacity for rule in self._rules) + self._turn.demands
        self._granted: list[int] = []
        self._in_step = 0
        """How many of the last demands came exactly one turn after the one before."""
        self._is_over = False

    def times(self) -> Iterator[Fraction]:
        """When demands are granted, in order."""
        return (Fraction(time, self._parts) for time in self._times())

    def count_before(self, time: Fraction) -> int:
        """How many demands are granted in [0, time)."""
        return self._count(ceil(time * self._parts) - 1)

    def count_through(self, time: Fraction) -> int:
        """How many demands are granted in [0, time]."""
        return self._count(floor(time * self._parts))

    def refused_before(self, time: Fraction) -> Fraction | None:
        """The first time before another at which lockout would allow a demand and a limit refuses it."""
        end = time * self._parts
        allowed = 0
        for granted in self._times():
            if granted > allowed or allowed >= end:
                break
            allowed = granted + self._wait
        return Fraction(allowed, self._parts) if allowed < end else None

    def longest_wait_from_before(self, time: Fraction) -> Fraction | None:
        """The longest time from a demand granted before a time to the next; None when one has no next one."""
        end = time * self._parts
        longest = 0
        for number, granted in enumerate(self._times()):
            if granted >= end:
                return Fraction(longest, self._parts) if number else None
            following = self._find(number + 1)
            if following is None:
                return None
            longest = max(longest, following - granted)
        return None

    def first_not_whole(self, drug: Fraction, *, before: Fraction) -> tuple[int, Fraction | None]:
        """How many demands this much drug lasts for, and when the next is granted; None: not before then."""
        granted, there_is = self.count_through(before), floor(drug * self._grains)
        # The first whose own dose, with all that came before it, is more than there is: found by halving.
        fits, too_many = 0, granted
        while fits < too_many:
            middle = (fits + too_many) // 2
            if (middle + 1) * self._dose + self._rate * self._time_of(middle) > there_is:
                too_many = middle
            else:
                fits = middle + 1
        return fits, Fraction(self._time_of(fits), self._parts) if fits < granted else None

    def _time(self, time: Fraction) -> int:
        return int(time * self._parts)

    def _rule(self, settings: PumpSettings, limit: Limit) -> "_Rule":
        rate = self._rate if settings.counting.continuous else 0
        loading = settings.loading if settings.counting.loading else Fraction(0)
        amount, window = int(limit.amount * self._grains), self._time(limit.window)
        return _Rule(
            window=window,
            dose=self._dose,
            rate=rate,
            in_first_window=amount - int(loading * self._grains),
            capacity=max(0, (amount - rate * window) // self._dose),
        )

    def _times(self) -> Iterator[int]:
        number = 0
        while (granted := self._find(number)) is not None:
            yield granted
            number += 1

    def _count(self, end: int) -> int:
        """How many demands are granted up to a time, that instant included."""
        while (not self._granted or self._granted[-1] <= end) and self._steps_on():
            pass
        if self._is_over or end < self._granted[-1]:
            return bisect_right(self._granted, end)
        first = len(self._granted) - self._turn.demands
        turns = (end - self._granted[first]) // self._turn.time
        within = bisect_right(self._granted, end - turns * self._turn.time, lo=first)
        return within + turns * self._turn.demands

    def _find(self, number: int) -> int | None:
        """When the demand of that number (from 0 on) is granted; None when it never is."""
        while len(self._granted) <= number and self._steps_on():
            pass
        return None if self._is_over and number >= len(self._granted) else self._time_of(number)

    def _time_of(self, number: int) -> int:
        """When a demand is granted that is worked out, or repeats one that is."""
        turns = max(0, -((len(self._granted) - 1 - number) // self._turn.demands))
        return self._granted[number - turns * self._turn.demands] + turns * self._turn.time

    def _steps_on(self) -> bool:
        """Work out one demand more; False where there is none, or all repeats itself from here on."""
        if self._is_over or self._in_step >= self._steady_at:
            return False
        granted, turn = self._granted, self._turn
        following = self._next(granted[-1] + self._wait if granted else 0)
        if following is None:
            self._is_over = True
            return False
        granted.append(following)
        before = len(granted) - 1 - turn.demands
        is_steady = before >= 0 and granted[before] >= self._longest_window
        in_step = is_steady and following - granted[before] == turn.time
        self._in_step = self._in_step + 1 if in_step else 0
        return True

    def _next(self, allowed: int) -> int | None:
        """When all limits let the next demand through, from the time on that lockout allows it."""
        time, before = allowed, -1
        # Waiting for one limit can make another wait: the continuous part goes on being counted.
        while time > before:
            before = time
            for rule in self._rules:
                let_through = rule.find_earliest(time, self._granted)
                if let_through is None:
                    return None
                time = let_through
        return time


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rule:
    """One limit, in whole numbers.

    In the first window nothing that was counted can drop out again; after it the continuous part takes a
    fixed share, and what is left is room for `capacity` demands in any window.
    """

    window: int
    dose: int
    rate: int
    in_first_window: int
    capacity: int

    def find_earliest(self, time: int, granted: list[int]) -> int | None:
        """When a demand is let through, from a time on; None for never."""
        number = len(granted)
        if time < self.window:
            if (number + 1) * self.dose + self.rate * time <= self.in_first_window:
                return time
            time = self.window
        if not self.capacity:
            return None
        return time if number < self.capacity else max(time, granted[number - self.capacity] + self.window)
