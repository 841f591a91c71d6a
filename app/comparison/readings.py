"""What was read: one value from one source, and all values of one source."""

import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from app.comparison.moments import Moment


@dataclass(frozen=True, kw_only=True, slots=True)
class Amount:
    """A quantity as typed, and its exact value in the unit of its dimension."""

    typed: str
    value: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class DoseAsVolume:
    """A dose or rate that a device takes as a volume; `value` is its mass, None where that is not known."""

    typed: str
    volume: Fraction
    value: Fraction | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Identifier:
    """A patient's identifier without case, white space and dashes; `is_end`: only how it ends was given."""

    typed: str
    value: str
    is_end: bool = False

    def names_who(self, other: "Identifier") -> bool:
        """Whether both can be one patient's."""
        if not self.is_end and not other.is_end:
            return self.value == other.value
        return (other.is_end and self.value.endswith(other.value)) or (
            self.is_end and other.value.endswith(self.value)
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Word:
    """A text as typed, and the form in which it is compared."""

    typed: str
    value: str | Fraction | date


@dataclass(frozen=True, kw_only=True, slots=True)
class Nothing:
    """The answer *none*: "none" where somebody said so, None where nobody had to type it."""

    typed: str | None
    value: None = None


Reading = Amount | DoseAsVolume | Identifier | Word | Nothing


# A source that says "none": its value is like any other, and equals only none.
NONE = Nothing(typed="none")
# No continuous rate where none is needed: it means none, though nobody typed it.
NOTHING_TYPED = Nothing(typed=None)

Lookup = Callable[[str], Reading | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Readings:
    """Everything that one clinician read from one source, by field, and which needed fields are missing."""

    by_field: Mapping[str, Reading]
    missing: frozenset[str] = frozenset()
    stated_concentration: Amount | None = None
    """The concentration as written beside an amount and a volume; these two decide, this one must agree."""
    use_by: Moment | None = None
    in_volumes: bool = False
    """Whether this is a device that takes its doses as volumes."""

    def find(self, field: str) -> Reading | None:
        """The reading of a field; None where the source does not give it."""
        return self.by_field.get(field)

    def find_number(self, field: str) -> Fraction | None:
        """The exact amount of a field, of a volume its mass; None where it is not known, or is none."""
        reading = self.by_field.get(field)
        return reading.value if isinstance(reading, Amount | DoseAsVolume) else None

    def find_text(self, field: str) -> str | None:
        """The compared form of a text such as the drug; None where it is not read."""
        reading = self.by_field.get(field)
        return reading.value if isinstance(reading, Word) and isinstance(reading.value, str) else None

    def says_none(self, field: str) -> bool:
        """Whether the answer is *none*."""
        return isinstance(self.by_field.get(field), Nothing)

    @property
    def mode(self) -> str | None:
        """The mode; None where it is not read."""
        return self.find_text("mode")


NO_READINGS = Readings(by_field={})


def same(one: Reading, other: Reading) -> bool:
    """Whether two readings are equal, exactly and in whatever unit; none and a rate of zero are one."""
    if isinstance(one, Identifier) and isinstance(other, Identifier):
        return one.names_who(other)
    return one is other or (one.value or None) == (other.value or None)


def read_alike(one: Reading, other: Reading) -> bool:
    """Whether two people read the same: as it was typed, so that no mass is any volume."""
    if isinstance(one, DoseAsVolume) or isinstance(other, DoseAsVolume):
        return _typed_amount(one) == _typed_amount(other)
    return same(one, other)


def _typed_amount(reading: Reading) -> tuple[bool, Fraction] | None:
    """Whether it is a volume, and how much; None for none, which a rate of zero is."""
    match reading:
        case DoseAsVolume(volume=volume) if volume:
            return True, volume
        case Amount(value=value) if value:
            return False, value
        case _:
            return None


def folded(text: str) -> str:
    """A name in the form in which names are compared: without regard to case and spaces at the ends."""
    return text.strip().casefold()


def without_spaces(text: str) -> str:
    """A lot number in the form in which they are compared: without regard to case and spaces anywhere."""
    return "".join(text.casefold().split())


def scanned(text: str) -> str:
    """A scanned code without the three characters with which some scanners say what kind of code it was."""
    return text[3:] if text.startswith("]") else text


def find_identifier(text: str) -> Identifier | None:
    """The identifier that a text states; None for blank."""
    compared = "".join(each for each in without_spaces(text) if unicodedata.category(each) != "Pd")
    if not compared:
        return None
    is_end = compared.startswith("*")
    return Identifier(typed=text, value=compared[1:] if is_end else compared, is_end=is_end)
