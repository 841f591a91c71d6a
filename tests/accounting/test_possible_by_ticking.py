"""Possible demands beside a pump stepped minute by minute, and stretches told piece by piece."""

from dataclasses import dataclass
from itertools import groupby
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests.accounting.builders import ABSENT, entry, issued, result_of, settings, totals
from tests.support.sampling import examples

# Examples by hand take every branch; watched by the coverage tool these would take three times as long.
pytestmark = pytest.mark.no_cover

# One tenth of a mg an hour is one such part a minute.
PARTS_OF_MG = 600
DAY = 24 * 60


@dataclass(frozen=True, kw_only=True, slots=True)
class Set:
    """What a device is set to: tenths of a mg, min, tenths of a mg an hour."""

    dose: int | None
    lockout: int
    rate: int
    limits: tuple[tuple[int, int], ...]


def demands(pump: Set, minutes: int, *, counts_continuous: bool) -> int:
    """By pressing at every minute from 0 to the last, both included."""
    granted: list[int] = []
    if pump.dose is None:
        return 0
    dose = pump.dose * PARTS_OF_MG // 10
    for minute in range(minutes + 1):
        if granted and minute < granted[-1] + pump.lockout:
            continue
        for amount, window in pump.limits:
            counted = dose * sum(minute - window < time for time in granted)
            counted += pump.rate * min(minute, window) if counts_continuous else 0
            if counted + dose > amount * PARTS_OF_MG // 10:
                break
        else:
            granted.append(minute)
    return len(granted)


def tenths(number: int, unit: str) -> str:
    whole, part = divmod(number, 10)
    return f"{whole}.{part} {unit}" if part else f"{whole} {unit}"


def written(pump: Set, time: str) -> dict[str, Any]:
    limits = [{"amount": tenths(a, "mg"), "window": f"{w} min"} for a, w in pump.limits]
    keys: dict[str, Any] = {"mode": "continuous", "demand_dose": ABSENT, "lockout": ABSENT}
    if pump.dose is not None:
        dose, lockout = tenths(pump.dose, "mg"), f"{pump.lockout} min"
        keys = {"mode": "demand-and-continuous", "demand_dose": dose, "lockout": lockout}
    limit = (limits[0] if len(limits) == 1 else limits) if limits else None
    return settings(time, limit=limit, continuous_rate=tenths(pump.rate, "mg/h"), **keys)


@st.composite
def pumps(draw: st.DrawFn) -> Set:
    windows = draw(st.lists(st.integers(60, 600), unique=True, max_size=3))
    return Set(
        dose=draw(st.integers(0, 20)) or None,
        lockout=draw(st.integers(1, 90)),
        rate=draw(st.integers(0, 12)),
        limits=tuple((draw(st.integers(1, 120)), window) for window in windows),
    )


Step = tuple[str, int, Set | None]
steps = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(("started", "paused", "read")), st.integers(0, 700), st.none()),
        st.tuples(st.just("settings"), st.integers(0, 700), pumps()),
    ),
    max_size=9,
)


def clock(minutes: int) -> str:
    day, minute = divmod(8 * 60 + minutes, DAY)
    return f"{2 + day}T{minute // 60:02d}:{minute % 60:02d}"


def possible(course: list[Step], last: int, slack: int, *, counts_continuous: bool) -> int:
    """By the pieces between entries, which belong to one stretch where nothing happened but a reading."""
    pieces: list[tuple[tuple[bool, int], Set | None, int]] = []
    running, pump, stretch = False, None, 0
    for (kind, minutes, changed), following in zip(
        course, [*(each[1] for each in course[1:]), last], strict=True
    ):
        if kind == "settings":
            pump, stretch = changed, stretch + 1
        elif kind != "read" and running != (kind == "started"):
            running, stretch = kind == "started", stretch + 1
        pieces.append(((running, stretch), pump, following - minutes))
    total = 0
    for (is_running, _), group in groupby(pieces, key=lambda piece: piece[0]):
        stretches = list(group)
        pump = stretches[0][1]
        if is_running and pump is not None:
            length = sum(length for *_, length in stretches)
            total += demands(pump, length + slack, counts_continuous=counts_continuous)
    return total


@hypothesis_settings(max_examples=examples(sample=62, whole=2500))
@given(data=st.data(), more=steps, slack=st.integers(0, 2), counts_continuous=st.booleans())
def test_possible_demands_are_those_of_the_stepped_pump(
    *, data: st.DataObject, more: list[Step], slack: int, counts_continuous: bool
) -> None:
    first, rest = data.draw(pumps()), data.draw(st.integers(0, 700))
    course: list[Step] = [("settings", 0, first), ("started", 0, None)]
    minutes = 0
    for kind, wait, pump in more:
        minutes += wait
        course.append((kind, minutes, pump))
    entries = [issued("08:00"), entry("loaded", "08:00", syringe="S1")]
    for kind, time, pump in course:
        # A reading without counts ends an interval, not the span of the one that has them.
        shown = {"totals": totals("0 mg")} if kind == "read" else {}
        entries.append(entry(kind, clock(time), **shown) if pump is None else written(pump, clock(time)))
    entries.append(entry("read", clock(minutes + rest), totals=totals("0 mg", 0, 0)))
    policy = {"time_accuracy": f"{slack} min", "limit_counts_continuous": counts_continuous}
    reading = result_of(*entries, policy=policy)["readings"][-1]
    expected = possible(course, minutes + rest, 2 * slack, counts_continuous=counts_continuous)
    assert reading["possible_doses"] == expected
