"""How long the syringe now on lasts, and when to ask pharmacy for the next one."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import floor

from app.accounting.account import Account
from app.accounting.case import Primed, Wasted, left_of
from app.accounting.course import InForce
from app.accounting.possible import long_use
from app.dosing.syringe import LONGEST

_NOTHING = Fraction(0)
_HOUR = 60
_DAY = 24 * 60


@dataclass(frozen=True, kw_only=True, slots=True)
class Lasts:
    """How long, in min from the reading, and until when, in min of UTC."""

    minutes: Fraction
    empty_at: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Forecast:
    """When the syringe will be empty, from its last reading on."""

    syringe: str
    read_at: int
    """The entry of the reading."""
    running: bool
    volume: Fraction
    left_now: Fraction | None
    by_continuous: Lasts | None
    by_use: Lasts | None
    at_full_use: Lasts | None
    ask_by: Fraction | None
    ask_by_at_full_use: Fraction | None
    ahead: int
    """How far local time at the reading is ahead of UTC, in min."""


def forecast_of(account: Account) -> Forecast | None:
    """From the last reading of the syringe now on, as the device is set now; None without one of these."""
    course = account.course
    state = course.states[-1]
    if state.on is None or state.loading is None or state.in_force is None:
        return None
    concentration = state.in_force.concentration
    assert concentration is not None  # noqa: S101  # of a device in volumes it is that of the syringe on
    read_at = _find_last_left(account, state.loading)
    if read_at is None:
        return None
    volume = _volume(account, state.on, read_at)
    at = course.times[read_at]
    lasting = {
        "by_continuous": _by_continuous(state.in_force, volume * concentration),
        "by_use": _by_use(account, state.on, volume),
        "at_full_use": long_use(state.in_force, course).lasts(volume * concentration),
    }
    found = {
        name: None if minutes is None or minutes > LONGEST else Lasts(minutes=minutes, empty_at=at + minutes)
        for name, minutes in lasting.items()
    }
    by_continuous, by_use, at_full_use = found.values()
    policy = account.case.policy
    asked_by = (by_continuous, by_use, at_full_use if policy.ask_at_full_use else None)
    return Forecast(
        syringe=state.on,
        read_at=read_at,
        running=state.running,
        volume=volume,
        left_now=_left_now(account, read_at, volume, (by_continuous, by_use)),
        by_continuous=by_continuous,
        by_use=by_use,
        at_full_use=at_full_use,
        ask_by=_earlier(asked_by, policy.lead_time),
        ask_by_at_full_use=_earlier((at_full_use,), policy.lead_time),
        ahead=account.case.entries[read_at].at.ahead,
    )


def _find_last_left(account: Account, loading: int) -> int | None:
    """The last reading of what is left since the syringe was last loaded."""
    entries = account.case.entries
    for place in range(len(entries) - 1, loading, -1):
        if left_of(entries[place]) is not None:
            return place
    return None


def _volume(account: Account, on: str, read_at: int) -> Fraction:
    """What was left then, less what was primed and wasted since."""
    entries = account.case.entries
    left = left_of(entries[read_at]) or _NOTHING
    for entry in entries[read_at + 1 :]:
        if isinstance(entry, Primed) or (isinstance(entry, Wasted) and entry.syringe == on):
            left -= entry.volume
    return max(_NOTHING, left)


def _by_continuous(in_force: InForce, drug: Fraction) -> Fraction | None:
    return drug / in_force.rate if in_force.rate else None


def _by_use(account: Account, on: str, volume: Fraction) -> Fraction | None:
    """At the pace so far: the larger of what the device says it gave and what is gone from the syringe."""
    ledger = account.ledgers[on]
    count = ledger.in_use
    if count is None:
        return None
    used = max(count.delivered, count.by_syringe)
    ran = account.course.ran_with(on, count.entry)
    return volume * ran / used if used > 0 and ran > 0 else None


def _left_now(
    account: Account, read_at: int, volume: Fraction, paces: tuple[Lasts | None, Lasts | None]
) -> Fraction | None:
    known = [pace.minutes for pace in paces if pace is not None]
    if not known:
        return None
    if not volume:
        return _NOTHING
    ran = account.course.ran(read_at, len(account.case.entries))
    return max(_NOTHING, volume * (1 - ran / min(known)))


def _earlier(lasting: Iterable[Lasts | None], lead_time: Fraction) -> Fraction | None:
    """The earliest end, less the time that pharmacy needs."""
    ends = [each.empty_at for each in lasting if each is not None]
    return min(ends) - lead_time if ends else None


def written_time(minutes: Fraction, ahead: int) -> str:
    """A time as the contract writes it: rounded down to the minute, at a zone's offset."""
    day, minute = divmod(floor(minutes) + ahead, _DAY)
    hour, minute = divmod(minute, _HOUR)
    hours_ahead, minutes_ahead = divmod(abs(ahead), _HOUR)
    sign = "-" if ahead < 0 else "+"
    written_day = date.fromordinal(day).isoformat()
    return f"{written_day}T{hour:02d}:{minute:02d}{sign}{hours_ahead:02d}:{minutes_ahead:02d}"
