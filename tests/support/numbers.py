"""How a number must not be written where people read it.

Of the list of error-prone ways to write a dose (Institute for Safe Medication Practices, as reproduced in
table 3 of doi 10.1098/rsif.2010.0112): no naked decimal point, no trailing zero, a space before the unit,
mcg and never the Greek letter, mL and never cc, thousands set off.
"""

import re
from collections.abc import Iterator
from typing import Any

_UNIT = r"(?:mg|mcg|g|kg|mL|L|min|h|s|mmHg|mmol)"
_WAYS = {
    "a naked decimal point": re.compile(r"(?<![0-9A-Za-z])\.[0-9]"),
    "a trailing zero": re.compile(r"(?<![0-9.])[0-9]+\.[0-9]*0(?![0-9.Z])"),
    "no space before the unit": re.compile(rf"(?<![0-9A-Za-z#_-])[0-9.,]*[0-9]{_UNIT}\b"),
    "a Greek letter": re.compile(r"[\u00b5\u03bc]g"),
    "cc": re.compile(r"\bcc\b"),
    "thousands not set off": re.compile(rf"(?<![0-9,.-])[0-9]{{4,}}(?:\.[0-9]+)? {_UNIT}\b"),
}


# A key for an app, in groups of four (base32, RFC 4648): no part of it is a number with a unit.
_KEY_OF_AN_APP = re.compile(r"\b(?:[A-Z2-7]{4} ){4,}[A-Z2-7]{1,4}\b")


def unsafe(text: str) -> Iterator[str]:
    """Each number in a text that is written as it must not be: in what way, and where it stands."""
    text = _KEY_OF_AN_APP.sub("", text)
    for way, pattern in _WAYS.items():
        for found in pattern.finditer(text):
            yield f"{way}: {text[max(0, found.start() - 40) : found.end() + 20]!r}"


def strings(value: Any) -> Iterator[str]:  # noqa: ANN401  # any JSON
    """Every string in a document."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for each in value.values() if isinstance(value, dict) else value:
            yield from strings(each)
