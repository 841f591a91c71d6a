"""The text of a scanned GS1 code -> what it says for a reading, or why it says nothing that may be used.

After the GS1 General Specifications: application identifiers and the length of each one's text (section 3),
separators (7.8.6), check digits (7.9.1), century and day of a date (7.12). Only the text and the day of
reading are looked at. A part that cannot be read spoils the whole code: where would the next part begin?
"""

import re
from calendar import monthrange
from collections.abc import Callable
from datetime import date, time
from enum import StrEnum

from biip import ParseConfig, ParseError
from biip.checksums import gs1_standard_check_digit
from biip.gs1_element_strings import GS1ElementString

from app.quantities.faults import Fault

# FNC1 between two parts: as a scanner sends it, and as a page can show it.
SEPARATOR = "\x1d"
SHOWN_SEPARATOR = "\N{SYMBOL FOR GROUP SEPARATOR}"

Filled = dict[str, str]
"""Field of a reading (`lot`, `use_by`, `code`, `identifier`) -> its text, as one would type it."""


class ScanFault(StrEnum):
    """Why a code is not used."""

    NOT_GS1 = "not-gs1"
    UNREADABLE_PART = "unreadable-part"
    NO_SEPARATOR = "no-separator"
    CHECK_DIGIT = "check-digit"
    NO_SUCH_DATE = "no-such-date"
    CONTRADICTION = "contradiction"


_SAYS = {
    ScanFault.NOT_GS1: "This is not a code that can be used here. Write what is printed instead.",
    ScanFault.UNREADABLE_PART: "A part of this code is not known here. Write what is printed instead.",
    ScanFault.NO_SEPARATOR: (
        "The marks between the parts of this code did not arrive, and nobody can tell where one ends. "
        "Write what is printed instead."
    ),
    ScanFault.CHECK_DIGIT: "A digit of this code is wrong. Scan it again, or write what is printed.",
    ScanFault.NO_SUCH_DATE: "This code holds a date that does not exist. Write what is printed instead.",
    ScanFault.CONTRADICTION: "This says two different things. Clear it and scan one code.",
}

# How a scanner names what it has read, where that carries GS1 identifiers (ISO/IEC 15424).
_GS1_SYMBOLOGY = re.compile(r"^\](?:C1|e0|d2|Q3|J1)")
# Neither white space nor a closing bracket can be part of what a code says: here another code begins.
_NEXT_CODE = re.compile(r"[ \t\r\n]+|(?=\])")
_BRACKETED = re.compile(r"\(([0-9]{2,4})\)")

# Dates are read here: the library asks the machine's clock for the century.
_AS_IT_STANDS = ParseConfig(gs1_element_strings_verify_date=False)

_Part = tuple[str, str]


def read_scan(text: str, today: date) -> Filled | Fault:
    """What a scanned, typed or pasted code says; several codes one after another must not contradict."""
    parts = _parts(text.replace(SHOWN_SEPARATOR, SEPARATOR))
    filled = parts if isinstance(parts, ScanFault) else _fill(parts, today)
    return Fault(code=filled.value, says=_SAYS[filled]) if isinstance(filled, ScanFault) else filled


def _fill(parts: list[_Part], today: date) -> Filled | ScanFault:
    filled: Filled = {}
    for identifier, value in parts:
        if identifier not in _MEANS:
            continue
        name, read = _MEANS[identifier]
        text = read(value, today)
        if isinstance(text, ScanFault):
            return text
        if filled.setdefault(name, text) != text:
            return ScanFault.CONTRADICTION
    return _with_one_use_by(filled)


def _with_one_use_by(filled: Filled) -> Filled | ScanFault:
    """A code may give the day alone, the day with its time, or both."""
    day, moment = filled.pop(_DAY, None), filled.pop(_MOMENT, None)
    if day and moment and not moment.startswith(day):
        return ScanFault.CONTRADICTION
    use_by = moment or day
    return {**filled, "use_by": use_by} if use_by else filled


def _parts(text: str) -> list[_Part] | ScanFault:
    if not text.isascii():
        return ScanFault.NOT_GS1
    if text.lstrip().startswith("("):
        return _bracketed_parts("".join(text.split()))
    found: list[_Part] = []
    for code in filter(None, _NEXT_CODE.split(text)):
        parts = _parts_of_code(code)
        if isinstance(parts, ScanFault):
            return parts
        found += parts
    return found


def _parts_of_code(code: str) -> list[_Part] | ScanFault:
    """The parts of one code as a scanner sends it."""
    rest = _GS1_SYMBOLOGY.sub("", code).strip(SEPARATOR)
    found: list[_Part] = []
    while rest:
        part = _first_part(rest)
        if isinstance(part, ScanFault):
            return part if found else ScanFault.NOT_GS1
        rest = rest[len(part) :]
        if rest and part.ai.separator_required and not rest.startswith(SEPARATOR):
            return ScanFault.NO_SEPARATOR
        rest = rest.lstrip(SEPARATOR)
        found.append((part.ai.ai, part.value))
    return found


def _bracketed_parts(text: str) -> list[_Part] | ScanFault:
    """The parts as people read them beside a code, each with its identifier in brackets."""
    before, *rest = _BRACKETED.split(text)
    if before:
        return ScanFault.NOT_GS1
    found: list[_Part] = []
    for identifier, value in zip(rest[::2], rest[1::2], strict=True):
        part = _first_part(identifier + value)
        if isinstance(part, ScanFault):
            return part
        if (part.ai.ai, part.value) != (identifier, value):
            return ScanFault.UNREADABLE_PART
        found.append((identifier, value))
    return found


def _first_part(text: str) -> GS1ElementString | ScanFault:
    try:
        return GS1ElementString.extract(text, config=_AS_IT_STANDS)
    except ParseError:
        return ScanFault.UNREADABLE_PART


def _as_it_stands(value: str, _: date) -> str:
    return value


def _with_check_digit(value: str, _: date) -> str | ScanFault:
    is_right = gs1_standard_check_digit(value[:-1]) == int(value[-1])
    return value if is_right else ScanFault.CHECK_DIGIT


def _day(value: str, today: date) -> str | ScanFault:
    """YYMMDD; the day 00 is the last one of the month."""
    year, month, day = _year(value, today), int(value[2:4]), int(value[4:])
    try:
        return date(year, month, day or monthrange(year, month)[1]).isoformat()
    except ValueError:
        return ScanFault.NO_SUCH_DATE


def _moment(value: str, today: date) -> str | ScanFault:
    """YYMMDDhhmm; beside a time of day, the day 00 stands for no other."""
    try:
        day = date(_year(value, today), int(value[2:4]), int(value[4:6]))
        at = time(int(value[6:8]), int(value[8:]))
    except ValueError:
        return ScanFault.NO_SUCH_DATE
    return f"{day.isoformat()} {at:%H:%M}"


# From 49 years before the year of reading to 50 after it.
_FARTHEST_BACK, _FARTHEST_AHEAD, _CENTURY = -49, 50, 100


def _year(value: str, today: date) -> int:
    """The year that the first two digits mean."""
    ahead = int(value[:2]) - today.year % _CENTURY
    if ahead > _FARTHEST_AHEAD:
        ahead -= _CENTURY
    elif ahead < _FARTHEST_BACK:
        ahead += _CENTURY
    return today.year + ahead


_DAY, _MOMENT = "use_by_day", "use_by_moment"
# Batch or lot; expiration date, alone and with its time; product; recipient of a service, who on a wristband
# is the patient (ISO/TS 18530). The provider of a service (8017) is a clinician, and fills in nothing.
_MEANS: dict[str, tuple[str, Callable[[str, date], str | ScanFault]]] = {
    "10": ("lot", _as_it_stands),
    "17": (_DAY, _day),
    "7003": (_MOMENT, _moment),
    "01": ("code", _with_check_digit),
    "8018": ("identifier", _with_check_digit),
}
