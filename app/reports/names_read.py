"""Names that are compared with nothing, on paper: as they were read, where the fonts have the letters."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.records.kept import LETTERS
from app.records.reading import NAMES, Answers, names_read
from app.records.sources import Field, Source

# What both shipped fonts have: a test asks the fonts. Nothing else is sent to the printer: it would come out
# as boxes, or as whatever font the machine has.
_HAS = (
    (0x20, 0x7E),
    (0xA0, 0x107),
    (0x10A, 0x113),
    (0x116, 0x11B),
    (0x11E, 0x123),
    (0x126, 0x127),
    (0x12A, 0x12B),
    (0x12E, 0x12F),
    (0x131, 0x131),
    (0x136, 0x137),
    (0x13B, 0x13E),
    (0x141, 0x148),
    (0x150, 0x155),
    (0x158, 0x15B),
    (0x15E, 0x165),
    (0x16A, 0x16B),
    (0x16E, 0x173),
    (0x178, 0x17E),
    (0x218, 0x21B),
    (0x2018, 0x2019),
)


@dataclass(frozen=True, kw_only=True)
class NameShown:
    """A name, and who read it; `who` is blank where both did."""

    who: str
    name: str

    @property
    def is_printed(self) -> bool:
        """Whether the fonts have every sign of it."""
        return all(any(first <= ord(sign) <= last for first, last in _HAS) for sign in self.name)


def all_names_shown(readings: Mapping[str, Answers]) -> dict[str, tuple[NameShown, ...]]:
    """The names that the record has, by the name of their field."""
    return {field.name: names_shown(readings, source, field) for source, field in NAMES}


def names_shown(readings: Mapping[str, Answers], source: Source, field: Field) -> tuple[NameShown, ...]:
    """What was read as one name; nothing where the record leaves it out, or nobody read it."""
    read = names_read(readings, source, field)
    if len(read) == len(LETTERS) and len(set(read.values())) == 1:
        return (NameShown(who="", name=read[LETTERS[0]]),)
    return tuple(NameShown(who=letter, name=name) for letter, name in read.items())
