"""A person's name as somebody typed it: in any script, in one form, and nothing in it that cannot be seen."""

import unicodedata

from app.quantities.faults import Fault

LONGEST_NAME = 80
# Letters, marks, numbers, punctuation, signs and plain spaces.
_WRITTEN = frozenset("LMNPS")
# What joins letters in Persian and in scripts of India; every other invisible sign may turn a line about.
_JOINERS = frozenset("\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}")


def read_name(text: str) -> str | Fault:
    """The name in the composed form of Unicode (NFC), one space between its words; blank when nothing was."""
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if len(name) > LONGEST_NAME:
        return Fault(code="too-long", says=f"Write at most {LONGEST_NAME} signs of the name.")
    if not all(each in _JOINERS or each == " " or _is_written(each) for each in name):
        return Fault(code="unprintable", says="This holds a sign that cannot be seen. Type the name by hand.")
    return name


def _is_written(sign: str) -> bool:
    return unicodedata.category(sign)[0] in _WRITTEN
