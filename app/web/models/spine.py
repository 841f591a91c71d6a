"""Numbers on one decimal spine: every digit in a column of its own, so that a moved point is seen at once."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

_BEFORE = ("1", "10", "100", "1,000", "10,000", "100,000", "1,000,000", "10,000,000", "100,000,000")
_AFTER = ("1/10", "1/100", "1/1,000", "1/10,000", "1/100,000", "1/1,000,000")


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


@dataclass(frozen=True, kw_only=True)
class Spine:
    """How many columns a page needs before and after the point."""

    whole: int
    part: int

    @property
    def places_before(self) -> tuple[str, ...]:
        """The place values before the point, the greatest first."""
        return tuple(reversed(_BEFORE[: self.whole]))

    @property
    def places_after(self) -> tuple[str, ...]:
        """The place values after the point."""
        return _AFTER[: self.part]

    def before(self, number: Number) -> tuple[str, ...]:
        """The digits before the point, an empty column for each that the number has not.

        The comma that sets off thousands stands in the column of the digit before it.
        """
        digits = tuple(re.findall(r"[0-9],?", number.whole))
        return (" ",) * (self.whole - len(digits)) + digits

    def after(self, number: Number) -> tuple[str, ...]:
        """The digits after the point, likewise."""
        return tuple(number.part.ljust(self.part))


def find_number(text: str, unit: str = "") -> Number | None:
    """The number in a text such as `0.5 mg`, with this unit if one is given; None where there is none."""
    number, _, own_unit = text.partition(" ")
    whole, _, part = number.partition(".")
    digits = whole.replace(",", "")
    if not own_unit or not digits.isdecimal() or (part and not part.isdecimal()):
        return None
    return Number(whole=f"{int(digits):,}", part=part, unit=unit or own_unit)


def spine_for(numbers: Iterable[Number]) -> Spine:
    """The narrowest spine on which all of these stand."""
    found = list(numbers)
    return Spine(
        whole=max((len(each.whole.replace(",", "")) for each in found), default=1),
        part=max((len(each.part) for each in found), default=0),
    )
