"""The words that only the screens have; those that a printed record has too stand in `app.words.names`."""

import re

from app.records.kinds import kind_named
from app.words.names import SOURCES


def source_words(name: str) -> str:
    """The name of a source."""
    return SOURCES[name]


_BEFORE_A_UNIT = re.compile(r"(?<=[0-9]) (?=(?:mg|mcg|mL|min|h|s|kg|mmHg|/min|%)(?![A-Za-z]))")


def unbroken(text: str) -> str:
    """A sentence in which no line break parts a number from its unit."""
    return _BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", text)


def kind_words(kind: str) -> str:
    """What kind of check it is."""
    return kind_named(kind).words


def no_such_bed(beds: tuple[str, ...]) -> str:
    """That a unit has no such bed, and which it has."""
    if not beds:
        return "This unit has no beds yet: an administrator adds them."
    return f"This unit has no such bed. It has: {in_short(beds)}."


NOT_A_SENDER_NAME = "Write a name of at most 60 characters, with a letter or a digit in it."
SENDER_NAME_TAKEN = "Another sender has, or had, this name: records say it, so it is used once."
NOT_A_UNIT_NAME = "Write a name of at most 60 characters, with a letter or a digit in it."
NAME_TAKEN = "Another unit is called so. Two units never have one name at a time, however it is written."


def in_short(beds: tuple[str, ...]) -> str:
    """Beds in the order in which people count, those that follow each other as `1 to 36`."""
    runs: list[list[str]] = []
    for bed in beds:
        before = runs[-1][-1] if runs else ""
        if before.isdecimal() and bed == str(int(before) + 1):
            runs[-1].append(bed)
        else:
            runs.append([bed])
    few = 2
    told = (f"{run[0]} to {run[-1]}" if len(run) > few else ", ".join(run) for run in runs)
    return ", ".join(told)


ROLES: dict[str, str] = {
    "nurse": "Nurse",
    "charge-nurse": "Charge nurse",
    "pharmacist": "Pharmacist",
    "quality": "Quality",
    "administrator": "Administrator",
    "controlled-drug-officer": "Controlled-drug officer",
    "trainer": "Trainer",
}
