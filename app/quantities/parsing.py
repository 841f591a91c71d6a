"""Text typed by a person -> an exact amount, or the fault in how it is written."""

import re
from dataclasses import dataclass
from fractions import Fraction

from app.quantities.amounts import Quantity, show, show_number
from app.quantities.faults import Fault, FaultCode, a_range, dose_for_weight, fault, first_of, out_of_range
from app.quantities.units import Dimension, WrittenUnit, units_of, written_units

# What is accepted: at most nine digits, at most six decimals of which the last is no zero, a space, a unit.
_WELL_WRITTEN = re.compile(r"(0|[1-9][0-9]{0,8})(?:\.([0-9]{0,5}[1-9]))? (\S+)")

# What is taken for the number in a text that is not accepted. \d means the digits of every script here, so
# that they are refused as "no number" and not taken for part of a unit.
_GROUP = r"(?:[\d.,]|(?<=\d)_(?=\d))+"
_NUMBER = re.compile(rf"[+-]?(?:{_GROUP}(?: {_GROUP})*(?:[eE][+-]?\d+)?)?")
_GOOD_NUMBER = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
_FAULTY_NUMBERS = (
    (re.compile(r"[+-]?\.[0-9].*"), FaultCode.NAKED_DECIMAL),
    (re.compile(r".*\.[0-9]*0"), FaultCode.TRAILING_ZERO),
    (re.compile(r"[+-]?[0-9]+(?:[ ,][0-9]{3})+(?:\.[0-9]+)?"), FaultCode.THOUSANDS_SEPARATOR),
    (re.compile(r"[^,]*,[^,]*"), FaultCode.DECIMAL_COMMA),
    (re.compile(r"[+-]?0[0-9].*"), FaultCode.LEADING_ZERO),
)
# What people write between the two numbers of a range: a hyphen, a dash, the minus sign, dots, a word.
_A_RANGE = re.compile(r"[0-9][0-9.,]* ?(?:[-\u2010-\u2015\u2212~]|\.\.|\u2026|to\b|or\b) ?[0-9]")
_ONE_SPACE_THEN_NO_OTHER = re.compile(r" \S*")
_PER_VOLUME = re.compile(r"/(?=[0-9])")

# Both code points of the Greek letter are meant: the micro sign and the letter mu.
_UNSAFE_UNITS = frozenset({"\u00b5g", "\u03bcg", "ug", "MG", "Mg", "ml", "ML", "cc", "U", "IU"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Range:
    """The least and the most that is accepted, both inclusive, in the unit of the dimension."""

    least: Fraction
    most: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class _Asked:
    """Which quantities would do."""

    dimension: Dimension
    zero_allowed: bool = False
    allowed: Range | None = None


def parse_quantity(
    text: str, dimension: Dimension, *, zero_allowed: bool = False, allowed: Range | None = None
) -> Quantity | Fault:
    """The exact amount that a text such as `0.2 mg` states."""
    asked = _Asked(dimension=dimension, zero_allowed=zero_allowed, allowed=allowed)
    if "/" in text:
        halves = _PER_VOLUME.split(text, maxsplit=1)
        if len(halves) > 1:
            return _mass_in_volume(halves[0], halves[1], asked) or _one_number(text, asked)
    return _one_number(text, asked)


def parse_one_of_two(
    text: str, kinds: tuple[Dimension, Dimension], *, settled: Dimension | None, zero_allowed: bool
) -> Quantity | Fault:
    """The exact amount of one of two kinds; where it is settled which, the other is refused as mixed."""
    expected = settled or kinds[0]
    other = kinds[1] if expected is kinds[0] else kinds[0]
    read = parse_quantity(text, expected, zero_allowed=zero_allowed)
    if not _measures_something_else(read):
        return read
    as_other = parse_quantity(text, other, zero_allowed=zero_allowed)
    if _measures_something_else(as_other):
        return fault(FaultCode.WRONG_DIMENSION, (*units_of(kinds[0]), *units_of(kinds[1])))
    return as_other if settled is None else fault(FaultCode.MIXED_UNITS, units_of(settled))


def _measures_something_else(read: Quantity | Fault) -> bool:
    return isinstance(read, Fault) and read.code == FaultCode.WRONG_DIMENSION


def _mass_in_volume(mass_text: str, volume_text: str, asked: _Asked) -> Quantity | Fault | None:
    """A concentration typed as `50 mg/50 mL`; None where neither this was asked for nor typed."""
    mass = _one_number(mass_text, _Asked(dimension=Dimension.MASS))
    volume = _one_number(volume_text, _Asked(dimension=Dimension.VOLUME))
    if isinstance(mass, Quantity) and isinstance(volume, Quantity):
        if asked.dimension is Dimension.CONCENTRATION:
            return Quantity(value=mass.value / volume.value, dimension=asked.dimension)
        return fault(FaultCode.WRONG_DIMENSION, units_of(asked.dimension))
    if asked.dimension is not Dimension.CONCENTRATION:
        return None
    return first_of([half for half in (mass, volume) if isinstance(half, Fault)])


def _one_number(text: str, asked: _Asked) -> Quantity | Fault:
    """The amount that one number and one unit state."""
    written = _WELL_WRITTEN.fullmatch(text)
    if written is None:
        return _fault_of_text(text, asked)
    whole, decimals, unit_text = written.groups(default="")
    unit = written_units().get(unit_text)
    if unit is None or unit.dimension is not asked.dimension:
        return _fault_of_text(text, asked)
    value = int(whole + decimals) * unit.factor
    if decimals:
        value /= 10 ** len(decimals)
    if not value and not asked.zero_allowed:
        return fault(FaultCode.NOT_POSITIVE, units_of(asked.dimension))
    if asked.allowed and not asked.allowed.least <= value <= asked.allowed.most:
        least, most = (_said_in(unit, unit_text, each) for each in (asked.allowed.least, asked.allowed.most))
        return out_of_range(least, most)
    return Quantity(value=value, dimension=asked.dimension)


def _said_in(unit: WrittenUnit, unit_text: str, bound: Fraction) -> str:
    """A bound in the unit that was typed where that is whole, as `24 h` and not `1,440 min`."""
    typed = bound / unit.factor
    if typed.denominator == 1:
        return f"{show_number(typed)} {unit_text}"
    return show(Quantity(value=bound, dimension=unit.dimension))


def _fault_of_text(text: str, asked: _Asked) -> Fault:
    """Why a text was not accepted: the number is looked at first, then what follows it."""
    rest = _NUMBER.sub("", text, count=1)
    number = text.removesuffix(rest)
    code = _fault_of_number(number) or _fault_of_unit(rest, asked) or FaultCode.TOO_MANY_DIGITS
    if _A_RANGE.match(text):
        return a_range(code)
    if code is FaultCode.UNKNOWN_UNIT and "kg" in rest[1:].split("/"):
        return dose_for_weight()
    return fault(code, units_of(asked.dimension))


def _fault_of_number(number: str) -> FaultCode | None:
    for pattern, code in _FAULTY_NUMBERS:
        if pattern.fullmatch(number):
            return code
    return None if _GOOD_NUMBER.fullmatch(number) else FaultCode.NOT_A_NUMBER


def _fault_of_unit(rest: str, asked: _Asked) -> FaultCode | None:
    """What is wrong with what follows the number, the space in between included."""
    unit_text = rest[1:]
    if rest and not _ONE_SPACE_THEN_NO_OTHER.fullmatch(rest):
        return FaultCode.MISSING_SPACE
    if not unit_text:
        return FaultCode.MISSING_UNIT
    if not _UNSAFE_UNITS.isdisjoint(unit_text.split("/")):
        return FaultCode.UNSAFE_UNIT
    unit = written_units().get(unit_text)
    if unit is None:
        return FaultCode.UNKNOWN_UNIT
    return None if unit.dimension is asked.dimension else FaultCode.WRONG_DIMENSION
