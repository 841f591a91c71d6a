"""Text typed by a person -> a day, or why it is none; the month may be a word, and nothing is guessed."""

import re
from datetime import date
from enum import StrEnum

from app.quantities.faults import Fault


class DateOrder(StrEnum):
    """In which order a site writes a date in digits; with the year first, or the month as a word, any may."""

    DAY_FIRST = "day-month-year"
    MONTH_FIRST = "month-day-year"
    YEAR_FIRST = "year-month-day"

    @property
    def words(self) -> str:
        """As it is said: `day month year`."""
        return self.value.replace("-", " ")


MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_PARTS = re.compile(r"[0-9]+|[A-Za-z]+")
# Between the parts stands one sign of those that people write there, or nothing beside a word.
_PART = r"(?:[0-9]+|[A-Za-z]+)"
_BETWEEN = r"(?:, ?|\. ?|[ /-]|(?<=[0-9])(?=[A-Za-z])|(?<=[A-Za-z])(?=[0-9]))"
_WRITTEN = re.compile(f"{_PART}(?:{_BETWEEN}{_PART})*")
_OF_A_YEAR, _OF_A_DAY, _OF_A_MONTH_WORD, _OF_ALL = 4, 2, 3, 8
# Nobody who is read of was born earlier.
_EARLIEST = 1800
_CODE = "date"


def parse_date(text: str, order: DateOrder) -> date | Fault:
    """The day that a text such as `23 Nov 1958` states."""
    if not _WRITTEN.fullmatch(text):
        return _fault(f"Write {order.words}; the month may be a word, the year has all its four digits.")
    parts = _PARTS.findall(text)
    if len(parts) == 1 and len(text) == _OF_ALL and text.isdigit():
        return _without_signs(text, order)
    if len(parts) != len(("day", "month", "year")):
        return _fault(f"Write all three: {order.words}.")
    years = [each for each in parts if each.isdigit() and len(each) == _OF_A_YEAR]
    days = [each for each in parts if each.isdigit() and len(each) <= _OF_A_DAY]
    if len(years) != 1 or len(years) + len(days) + sum(each.isalpha() for each in parts) != len(parts):
        return _fault("Write all four digits of the year.")
    if any(each.isalpha() for each in parts):
        return _with_a_word(parts, int(years[0]), days, order)
    if parts[0] == years[0]:
        return _day(int(parts[0]), int(parts[1]), int(parts[2]), DateOrder.YEAR_FIRST)
    if parts[1] == years[0]:
        return _fault(f"The year stands first or last. Write {order.words}.")
    return _in_digits(int(parts[0]), int(parts[1]), int(years[0]), order)


def show_date(day: date) -> str:
    """`23 November 1958`: with the month as a word no two days can be taken for each other."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def _fault(says: str) -> Fault:
    return Fault(code=_CODE, says=says)


def _with_a_word(parts: list[str], year: int, days: list[str], order: DateOrder) -> date | Fault:
    word = next(each for each in parts if each.isalpha())
    named = [
        number
        for number, month in enumerate(MONTHS, start=1)
        if len(word) >= _OF_A_MONTH_WORD and month.lower().startswith(word.lower())
    ]
    if len(days) != 1 or len(named) != 1:
        return _fault("This is no month. Write its name, or at least its first three letters.")
    return _day(year, named[0], int(days[0]), order)


def _in_digits(first: int, second: int, year: int, order: DateOrder) -> date | Fault:
    if order is not DateOrder.YEAR_FIRST:
        day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
        return _day(year, month, day, order)
    # The site has no word on which of the two is the day.
    either = {_day(year, second, first, order), _day(year, first, second, order)}
    days = [each for each in either if isinstance(each, date)]
    if len(days) > 1:
        return _fault("This can be two days: write the month as a word, or the year first.")
    return days[0] if days else _fault("There is no such day.")


def _without_signs(text: str, order: DateOrder) -> date | Fault:
    """Eight digits: in the site's order, or with the year first.

    No text is a day in both ways: the fifth and sixth digits are a month in the one, a century in the other.
    """
    year_first = _day(int(text[:4]), int(text[4:6]), int(text[6:]), DateOrder.YEAR_FIRST)
    if isinstance(year_first, date) or order is DateOrder.YEAR_FIRST:
        return year_first
    return _in_digits(int(text[:2]), int(text[2:4]), int(text[4:]), order)


def _day(year: int, month: int, day: int, order: DateOrder) -> date | Fault:
    if year < _EARLIEST:
        return _fault("There is no such year in any record. Look at it and read it again.")
    if not 1 <= month <= len(MONTHS):
        return _fault(f"There is no such month. A date in digits is written {order.words} here.")
    try:
        return date(year, month, day)
    except ValueError:
        return _fault(f"There is no such day in {MONTHS[month - 1]}.")
