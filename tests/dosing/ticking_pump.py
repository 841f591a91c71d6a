"""The contract's model pump told tick by tick, knowing nothing of runs, periods or closed forms.

It is written from the four rules of the model alone. Time is counted in ticks: as lockout and window are
whole numbers of ticks, and nothing changes between ticks but the continuous part, pressing at every tick is
pressing at every instant. Amounts are whole numbers of a small part of a mg.
"""

from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction


@dataclass(kw_only=True)
class TickingPump:
    """A pump, and what it has granted so far; `rate` for each tick, each limit with its window in ticks."""

    dose: int | None
    lockout: int
    rate: int
    loading: int
    limits: tuple[tuple[int, int], ...]
    counts_loading: bool
    counts_continuous: bool
    granted: list[int] = field(default_factory=list)
    refused_by_limit: list[int] = field(default_factory=list)

    def press(self, tick: int) -> bool:
        """Rule 3."""
        if self.dose is None or (self.granted and self.granted[-1] > tick - self.lockout):
            return False
        if any(self.counted(tick, window) + self.dose > limit for limit, window in self.limits):
            self.refused_by_limit.append(tick)
            return False
        self.granted.append(tick)
        return True

    def counted(self, tick: int, window: int) -> int:
        """What is counted in the window before a tick."""
        assert self.dose is not None
        in_window = len(self.granted) - bisect_right(self.granted, tick - window)
        counted = in_window * self.dose
        if self.counts_loading and tick < window:
            counted += self.loading
        if self.counts_continuous:
            counted += self.rate * min(tick, window)
        return counted

    def run(self, ticks: int) -> None:
        """Rule 4: pressed at every tick from 0 on, and a little beyond to see what follows the last one."""
        for tick in range(ticks):
            self.press(tick)

    def delivered_before(self, tick: int) -> int:
        """Rules 1 and 2, the loading dose left out."""
        demands = sum(1 for granted in self.granted if granted < tick)
        return demands * (self.dose or 0) + self.rate * tick


def syringe_lasts(pump: TickingPump, drug: int, ticks: int) -> Fraction | None:
    """When the syringe fails, in ticks; None when it lasts longer than `ticks`."""
    left = drug - pump.loading
    if left < 0:
        return Fraction(0)
    for tick in range(ticks + 1):
        if pump.press(tick) and pump.dose is not None:
            if pump.dose > left:
                return Fraction(tick)
            left -= pump.dose
        if pump.rate and left <= pump.rate:
            # The continuous part takes the last drug before the next tick, or at it.
            end = tick + Fraction(left, pump.rate)
            if end < tick + 1 or tick == ticks:
                return end if end <= ticks else None
        left -= pump.rate
    return None
