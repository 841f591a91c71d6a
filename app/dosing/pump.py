"""The model pump at full use: when demands are granted if the button is pressed at every instant.

Times in min from the start of the infusion, amounts in mg, rates in mg/min; all exact.

The rules (CONTRACT.md, "The model pump") leave at most two kinds of run, in each of which demands follow
each other one lockout apart. In the first window nothing that was counted can drop out again, and what is
counted only grows: a first run from time 0 goes on until the limit refuses or the window ends. After the
first window the continuous part takes a fixed share of the limit, so that any window holds at most
`capacity` demands: the next demand waits for the lockout after the last one, and for a full window after
the one `capacity` places before it. If `capacity` lockouts fill a window, the lockout decides for ever; if
not, runs of `capacity` demands follow each other, one a window. So everything can be counted without
stepping through the demands. Where several limits hold at once these are stepped through, until they repeat
themselves (`several_limits`).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import takewhile
from math import ceil, floor

from app.dosing.pump_settings import Limit, PumpSettings
from app.dosing.several_limits import GrantsByStep

_DAY = Fraction(24 * 60)


@dataclass(frozen=True, kw_only=True, slots=True)
class EndlessRun:
    """Demands granted one lockout apart from `start` on."""

    start: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class RepeatedRun:
    """`count` demands granted one lockout apart from `start` on, and again after every `period`."""

    start: Fraction
    count: int
    period: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Grants:
    """Every demand granted at full use: `first_count` from time 0 on (None: without end), then the later."""

    lockout: Fraction
    first_count: int | None
    later: EndlessRun | RepeatedRun | None = None
    refused_at: Fraction | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Refusal:
    """The limit refuses a demand that lockout would allow: when, and how many were granted before."""

    time: Fraction
    granted_before: int


def grants_at_full_use(settings: PumpSettings) -> Grants | GrantsByStep:
    """The demands granted when the button is pressed at every instant from time 0 on."""
    match settings.limits:
        case ():
            return Grants(lockout=settings.lockout, first_count=None)
        case (limit,):
            return _grants_under_one_limit(settings, limit)
        case _:
            return GrantsByStep(settings)


def _grants_under_one_limit(settings: PumpSettings, limit: Limit) -> Grants:
    lockout = settings.lockout
    by_lockout = ceil(limit.window / lockout)
    first_count = min(_allowed_in_first_window(settings, limit), by_lockout)
    capacity = _capacity(settings, limit)
    lockout_decides = capacity * lockout >= limit.window
    if first_count == by_lockout and lockout_decides:
        return Grants(lockout=lockout, first_count=None)
    later: EndlessRun | RepeatedRun | None = None
    if lockout_decides:
        later = EndlessRun(start=limit.window)
    elif capacity:
        # Where the first window held more demands than a later one can, enough of them must drop out first.
        start = limit.window + max(0, first_count - capacity) * lockout
        later = RepeatedRun(start=start, count=capacity, period=limit.window)
    return Grants(lockout=lockout, first_count=first_count, later=later, refused_at=first_count * lockout)


def granted_before(grants: Grants | GrantsByStep, time: Fraction) -> int:
    """How many demands are granted in [0, time)."""
    if isinstance(grants, GrantsByStep):
        return grants.count_before(time)
    return _granted(grants, time, _granted_since)


def granted_through(grants: Grants | GrantsByStep, time: Fraction) -> int:
    """How many demands are granted in [0, time], both instants included."""
    if isinstance(grants, GrantsByStep):
        return grants.count_through(time)
    return _granted(grants, time, _granted_from_to)


def _granted(grants: Grants, time: Fraction, count: Callable[[Fraction, Fraction, Fraction], int]) -> int:
    """How many demands are granted up to a time, where `count` says how many of an endless run are."""
    by_lockout = count(Fraction(0), grants.lockout, time)
    if grants.first_count is None:
        return by_lockout
    granted = min(grants.first_count, by_lockout)
    match grants.later:
        case EndlessRun(start=start):
            return granted + count(start, grants.lockout, time)
        case RepeatedRun(start=start, count=demands, period=period):
            rounds = max(0, floor((time - start) / period))
            in_last = count(start + rounds * period, grants.lockout, time)
            return granted + rounds * demands + min(demands, in_last)
        case _:
            return granted


def granted_times(grants: Grants | GrantsByStep, before: Fraction) -> Iterator[Fraction]:
    """When demands are granted in [0, before), in order: one step for each, so for pictures of some hours."""
    if isinstance(grants, GrantsByStep):
        yield from takewhile(lambda time: time < before, grants.times())
        return
    yield from _run(Fraction(0), grants.lockout, grants.first_count, before)
    match grants.later:
        case EndlessRun(start=start):
            yield from _run(start, grants.lockout, None, before)
        case RepeatedRun(start=start, count=demands, period=period):
            for number in range(ceil((before - start) / period)):
                yield from _run(start + number * period, grants.lockout, demands, before)
        case _:
            return


def _run(start: Fraction, lockout: Fraction, demands: int | None, before: Fraction) -> Iterator[Fraction]:
    """Demands one lockout apart; None: without end."""
    by_time = _granted_since(start, lockout, before)
    for number in range(by_time if demands is None else min(demands, by_time)):
        yield start + number * lockout


def first_refusal(grants: Grants | GrantsByStep) -> Refusal | None:
    """The first refusal before 24 h, if any."""
    refused_at = grants.refused_before(_DAY) if isinstance(grants, GrantsByStep) else grants.refused_at
    if refused_at is None or refused_at >= _DAY:
        return None
    return Refusal(time=refused_at, granted_before=granted_before(grants, refused_at))


def longest_wait(grants: Grants | GrantsByStep) -> Fraction | None:
    """The longest time from a demand granted before 24 h to the next; None when one has no next one."""
    if isinstance(grants, GrantsByStep):
        return grants.longest_wait_from_before(_DAY)
    if grants.first_count is None:
        return grants.lockout
    if grants.later is None:
        # The last demand of the first run has no next one; without a first run there is no demand at all.
        return None
    if grants.first_count:
        # The longest: a later run holds as many demands or more, or begins later by as many as it lacks.
        return grants.later.start - (grants.first_count - 1) * grants.lockout
    return _longest_in_later_runs(grants.later, grants.lockout) if grants.later.start < _DAY else None


def _longest_in_later_runs(later: EndlessRun | RepeatedRun, lockout: Fraction) -> Fraction:
    """The wait from the end of a run to the next if it ends before 24 h, else the one inside it."""
    if isinstance(later, RepeatedRun):
        length = (later.count - 1) * lockout
        if later.start + length < _DAY:
            return later.period - length
    return lockout


def _allowed_in_first_window(settings: PumpSettings, limit: Limit) -> int:
    """How many demands, one lockout apart from time 0, the limit allows before its window is over."""
    counted_rate = settings.rate if settings.counting.continuous else Fraction(0)
    counted_loading = settings.loading if settings.counting.loading else Fraction(0)
    left_after_first = limit.amount - counted_loading - settings.demand_dose
    return max(0, floor(left_after_first / (settings.demand_dose + counted_rate * settings.lockout)) + 1)


def _capacity(settings: PumpSettings, limit: Limit) -> int:
    """How many demands any window after the first can hold."""
    counted_rate = settings.rate if settings.counting.continuous else Fraction(0)
    return max(0, floor((limit.amount - counted_rate * limit.window) / settings.demand_dose))


def _granted_since(start: Fraction, lockout: Fraction, time: Fraction) -> int:
    return max(0, ceil((time - start) / lockout))


def _granted_from_to(start: Fraction, lockout: Fraction, time: Fraction) -> int:
    """The same with the last instant included."""
    return max(0, floor((time - start) / lockout) + 1)
