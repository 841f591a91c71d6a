"""The rules by which a point of a control chart is called out of control, each with a name.

A point exactly on a limit is not out: only beyond it is. A point exactly on the centre is on neither side, so
that it ends a run.
"""

from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction

RUN = 8
STEADY = 6


class Signal(StrEnum):
    """Why a point is out of control."""

    ABOVE = "above-limit"
    BELOW = "below-limit"
    RUN = "run-on-one-side"
    """Eight in a row on one side of the centre, this one the eighth or a later one."""
    STEADY = "steady-trend"
    """Six in a row, each above the one before, or each below it, this one the sixth or a later one."""


LIMITS = (Signal.ABOVE, Signal.BELOW)


def in_rows(values: Sequence[Fraction], sides: Sequence[int]) -> list[tuple[Signal, ...]]:
    """What each point says by those before it; a side is 1 above the centre, -1 below, 0 on it."""
    found: list[tuple[Signal, ...]] = []
    run = rising = falling = 1
    for place, side in enumerate(sides):
        if place:
            before = values[place - 1]
            run = run + 1 if side == sides[place - 1] else 1
            rising = rising + 1 if values[place] > before else 1
            falling = falling + 1 if values[place] < before else 1
        signals = (
            (Signal.RUN, side != 0 and run >= RUN),
            (Signal.STEADY, max(rising, falling) >= STEADY),
        )
        found.append(tuple(signal for signal, is_so in signals if is_so))
    return found
