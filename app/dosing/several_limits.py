"""The model pump at full use under several limits at once, demand by demand.

Times in min from the start of the infusion, amounts in mg, rates in mg/min; all exact. Inside, times and
amounts are whole numbers of small parts: fractions would take most of a comparison's time.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import floor, lcm

from app.dosing.pump_settings import Limit, PumpSettings


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
        self._granted: list[int] = []
        self._is_over = False

    def times(self) -> Iterator[Fraction]:
        """When demands are granted, in order."""
        return (Fraction(time, self._parts) for time in self._times())

    def count_before(self, time: Fraction) -> int:
        """How many demands are granted in [0, time)."""
        end = time * self._parts
        for number, granted in enumerate(self._times()):
            if granted >= end:
                return number
        return len(self._granted)

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
        end, left = before * self._parts, floor(drug * self._grains)
        for number, granted in enumerate(self._times()):
            if granted > end:
                return number, None
            if (number + 1) * self._dose + self._rate * granted > left:
                return number, Fraction(granted, self._parts)
        return len(self._granted), None

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

    def _find(self, number: int) -> int | None:
        """When the demand of that number (from 0 on) is granted; None when it never is."""
        granted = self._granted
        while len(granted) <= number and not self._is_over:
            following = self._next(granted[-1] + self._wait if granted else 0)
            if following is None:
                self._is_over = True
            else:
                granted.append(following)
        return granted[number] if number < len(granted) else None

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
