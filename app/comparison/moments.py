"""Dates and times as they are typed: `2031-03-14`, or `2031-03-14T08:40:00+01:00`."""

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

_MOMENT = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})"
    r"(?:T([01][0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9](?:\.[0-9]{1,12})?))?"
    r"(?:Z|([+-])([01][0-9]|2[0-3]):([0-5][0-9])))?"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Moment:
    """A day, or an instant in it; `instant` in seconds of UTC since the first day of the calendar."""

    day: date
    instant: Fraction | None


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
        return Moment(day=calendar_day, instant=None)
    ahead = int(offset_hours or 0) * 3600 + int(offset_minutes or 0) * 60
    local = calendar_day.toordinal() * 86400 + int(hour) * 3600 + int(minute) * 60
    instant = local + ahead if sign == "-" else local - ahead
    # Added as whole numbers where they are: fractions take several times as long.
    seconds = Fraction(second) if second and "." in second else int(second or 0)
    return Moment(day=calendar_day, instant=Fraction(instant + seconds))


def is_past(use_by: Moment, read_at: Moment) -> bool:
    """Whether what must be used by one moment is read too late; a day lasts to its end where it is read."""
    if use_by.instant is None or read_at.instant is None:
        return use_by.day < read_at.day
    return use_by.instant < read_at.instant
