"""What was read: one value from one source, and all values of one source."""

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
class Word:
    """A text as typed, and the form in which it is compared."""

    typed: str
    value: str | Fraction | date


@dataclass(frozen=True, kw_only=True, slots=True)
class Nothing:
    """The answer *none*: "none" where somebody said so, None where nobody had to type it."""

    typed: str | None
    value: None = None


Reading = Amount | Word | Nothing


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

    def find(self, field: str) -> Reading | None:
        """The reading of a field; None where the source does not give it."""
        return self.by_field.get(field)

    def find_number(self, field: str) -> Fraction | None:
        """The exact amount of a field; None where it is not read, or is none."""
        reading = self.by_field.get(field)
        return reading.value if isinstance(reading, Amount) else None

    def find_text(self, field: str) -> str | None:
        """The compared form of a text such as the drug; None where it is not read."""
        reading = self.by_field.get(field)
        return reading.value if isinstance(reading, Word) and isinstance(reading.value, str) else None

    @property
    def mode(self) -> str | None:
        """The mode; None where it is not read."""
        return self.find_text("mode")


NO_READINGS = Readings(by_field={})


def same(one: Reading, other: Reading) -> bool:
    """Whether two readings are equal, exactly and in whatever unit; none and a rate of zero are one."""
    return one is other or (one.value or None) == (other.value or None)


def folded(text: str) -> str:
    """A name in the form in which names are compared: without regard to case and spaces at the ends."""
    return text.strip().casefold()
