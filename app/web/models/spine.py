"""Numbers on one decimal spine: whole figures end at it, decimals begin there: a moved point is seen."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.quantities import Dimension, Fault, parse_quantity, show_in, units_of


@dataclass(frozen=True, kw_only=True)
class Number:
    """A number as text in two parts, with its unit: no arithmetic is done with it."""

    whole: str
    part: str
    unit: str

    @property
    def text(self) -> str:
        """The number and its unit, to be read aloud."""
        return f"{self.whole}{'.' if self.part else ''}{self.part} {self.unit}"


def find_number(text: str, unit: str = "") -> Number | None:
    """The number in a text such as `0.5 mg`, with this unit if one is given; None where there is none."""
    number, _, own_unit = text.partition(" ")
    whole, _, part = number.partition(".")
    digits = whole.replace(",", "")
    if not own_unit or not digits.isdecimal() or (part and not part.isdecimal()):
        return None
    return Number(whole=f"{int(digits):,}", part=part, unit=unit or own_unit)


def spine_for(numbers: Iterable[Number]) -> int:
    """How many figures a page keeps free before the point, so that all of these have it on one line."""
    return max((len(each.whole.replace(",", "")) for each in numbers), default=1)


def in_unit_of(first: Number, number: Number) -> Number:
    """A number in the unit of the one that it is compared with: 20 mcg under 0.2 mg would look the greater.

    As it is, where its unit is the same or of another kind. A limit's unit goes on with its window.
    """
    (wanted, _, _), (unit, gap, window) = (each.unit.partition(" ") for each in (first, number))
    dimension = next((each for each in Dimension if {wanted, unit} <= set(units_of(each))), None)
    if unit == wanted or dimension is None:
        return number
    text = number.text.replace(",", "").removesuffix(gap + window)
    quantity = parse_quantity(text, dimension, zero_allowed=True)
    if isinstance(quantity, Fault):
        return number
    return find_number(show_in(quantity, wanted), f"{wanted}{gap}{window}") or number
