"""Dates and times as they are typed: `2031-03-14`, or `2031-03-14T08:40:00+01:00`; a month, `2031-03`."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

_MOMENT = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})"
    r"(?:T([01][0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9](?:\.[0-9]{1,12})?))?"
    r"(?:Z|([+-])([01][0-9]|2[0-3]):([0-5][0-9])))?"
)

_MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")
_DAY = 86400


@dataclass(frozen=True, kw_only=True, slots=True)
class Moment:
    """A day, or an instant in it; `instant` in seconds of UTC since the first day of the calendar.

    `ahead` is by how many seconds the day of an instant is ahead of UTC.
    """

    day: date
    instant: Fraction | None = None
    ahead: int = 0


def find_moment(text: str) -> Moment | None:
    """The day or instant that a text states; None where it states none."""
    found = _MOMENT.fullmatch(text)
    if found is None:
        return None
    year, month, day, hour, minute, second, sign, offset_hours, offset_minutes = found.groups()
    try:
        calendar_day = date(int(year), int(month), int(day))
    except ValueError:
        return None
    if hour is None:
        return Moment(day=calendar_day)
    ahead = int(offset_hours or 0) * 3600 + int(offset_minutes or 0) * 60
    if sign == "-":
        ahead = -ahead
    instant = calendar_day.toordinal() * _DAY + int(hour) * 3600 + int(minute) * 60 - ahead
    # Added as whole numbers where they are: fractions take several times as long.
    seconds = Fraction(second) if second and "." in second else int(second or 0)
    return Moment(day=calendar_day, instant=Fraction(instant + seconds), ahead=ahead)


def find_end_of_month(text: str) -> Moment | None:
    """The last day of the month that a text states; None where it states none."""
    found = _MONTH.fullmatch(text)
    if found is None:
        return None
    year, month = int(found[1]), int(found[2])
    try:
        return Moment(day=date(year, month, monthrange(year, month)[1]))
    except ValueError:
        return None


def is_past(use_by: Moment, read_at: Moment) -> bool:
    """Whether what must be used by one moment is read too late; a day lasts to its end where it is read."""
    if use_by.instant is None or read_at.instant is None:
        return use_by.day < read_at.day
    return use_by.instant < read_at.instant


def minutes_left(use_by: Moment, read_at: Moment) -> Fraction:
    """The minutes from an instant to the end of what must be used by a moment, likewise."""
    assert read_at.instant is not None  # noqa: S101  # a reading has a time, not only a day
    end = use_by.instant
    if end is None:
        end = Fraction((use_by.day.toordinal() + 1) * _DAY - read_at.ahead)
    return (end - read_at.instant) / 60


def completed_years(born: date, on_day: date) -> int:
    """How old a person is on a day; a birthday on 29 February is completed on 1 March in other years."""
    had_birthday = (on_day.month, on_day.day) >= (born.month, born.day)
    return on_day.year - born.year - (0 if had_birthday else 1)
