"""The plain structure of a message: objects, texts, exact numbers by UCUM; the first fault ends it."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import NoReturn

from app.quantities import Dimension, Fault, Range, exact, parse_quantity

Node = Mapping[str, object]

UCUM = "http://unitsofmeasure.org"
LARGEST_MESSAGE = 64 * 1024
"""Of one message, in bytes."""

# By kind of quantity: the codes of UCUM that are read, and how the same unit is written here.
UNITS: Mapping[Dimension, Mapping[str, str]] = {
    Dimension.MASS: {"mg": "mg", "ug": "mcg", "g": "g"},
    Dimension.VOLUME: {"mL": "mL", "ml": "mL", "L": "L", "l": "L"},
    Dimension.TIME: {"s": "s", "min": "min", "h": "h"},
    Dimension.MASS_RATE: {"mg/h": "mg/h", "ug/h": "mcg/h", "mg/min": "mg/min", "ug/min": "mcg/min"},
}
# What is said of each refusal, to whoever sends; no word of the message is repeated.
REFUSALS: Mapping[str, str] = {
    "bad-json": "This is no JSON text in UTF-8, or a key stands in it twice.",
    "too-large": f"A message has at most {LARGEST_MESSAGE // 1024} KiB.",
    "not-a-medication-request": "Send one resource of the type MedicationRequest (FHIR R4), alone.",
    "cannot-be-understood": (
        "A modifier extension, or rules that are implicit, change what an order means. "
        "Send the order without them."
    ),
    "not-stated": "This is needed and is not there.",
    "wrong-type": "FHIR R4 has something of another type here.",
    "bad-text": "A text of 1 to 200 characters is needed here, without control characters.",
    "bad-time": "An instant is needed here, with date, time and zone.",
    "ahead-of-clock": (
        "This is later than it is by this site's clock. Put the clock right that is wrong, and send it again."
    ),
    "order-not-known-by-one": "An order has exactly one identifier with system and value, or else an id.",
    "unknown-status": "This is no status of a MedicationRequest.",
    "not-an-order": "Only an order is taken: an intent of order, and nothing that is not to be given.",
    "not-contained": "What is referred to here must be contained in the message.",
    "patient-not-known-by-one": (
        "The patient needs exactly one whole identifier of the system that the wristbands of this site have."
    ),
    "unknown-drug": "Name the drug by its generic name, as it stands in the drug library of this site.",
    "several-drugs": "Two names or two ingredients are two drugs of the library. Send an order for one drug.",
    "several-doses": (
        "At most one dose as needed, one rate and one dose given once are read, each with one doseAndRate."
    ),
    "unclear-dose": (
        "A dosage is read as a dose as needed, as a rate that is not as needed, or as a dose given once "
        "(timing.repeat.count 1)."
    ),
    "dose-for-weight": "A dose for each kg of body weight is not for this tool: adults only. Send the dose.",
    "a-range": "A range cannot be set. Send the one dose or rate that is ordered.",
    "not-ucum": (
        "Give the unit as a code of UCUM, with its system: a microgram is ug; "
        "mcg and the Greek letter are no UCUM."
    ),
    "unit-not-read": "Here the unit is one of those that the profile names.",
    "bad-number": "A positive number of at most 9 digits before the point and 6 after it is needed here.",
    "a-comparator": "Less than or more than a number cannot be set. Send the number.",
    "out-of-range": "No device can be set to this: a lockout is 1 min to 24 h, a window 1 h to 24 h.",
    "unclear-limit": (
        "An amount in less than an hour is a lockout only where it is the dose as needed; "
        "two different limits in one window cannot both be set."
    ),
    "unclear-lockout": (
        "A lockout is one dose in one period, in seconds, minutes or hours; timing and the most for a period "
        "must say one and the same."
    ),
}


@dataclass(frozen=True, kw_only=True)
class RefusedMessage:
    """A message that cannot be taken: where in it, and why, in words that whoever sends can act on."""

    path: str
    code: str

    @property
    def says(self) -> str:
        """What is wrong, and what to send instead."""
        return REFUSALS[self.code]


class RefusedError(Exception):
    """Carries a message's first fault up to `read_order`, which gives it back as a value."""

    def __init__(self, path: str, code: str) -> None:
        super().__init__()
        self.refused = RefusedMessage(path=path, code=code)


def refuse(path: str, code: str) -> NoReturn:
    """End the reading of a message."""
    raise RefusedError(path, code)


class Digits(str):
    """A number as it stands in the text: never a binary or decimal floating number."""

    __slots__ = ()


_LONGEST_KEY = 64


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError  # A key stands there twice.
    if any(len(key) > _LONGEST_KEY for key in found):
        raise ValueError  # No element of a resource has such a name; each path below would hold it anew.
    return found


def _refuse_constant(_: str) -> NoReturn:
    raise ValueError  # NaN and the infinities are no JSON.


_DECODER = json.JSONDecoder(
    object_pairs_hook=_object, parse_constant=_refuse_constant, parse_float=Digits, parse_int=Digits
)
WHOLE = "MedicationRequest"
"""The path of the message."""


def load(message: bytes) -> Node:
    """The object that a message is."""
    if len(message) > LARGEST_MESSAGE:
        refuse(WHOLE, "too-large")
    try:
        found = _DECODER.decode(message.decode())
    except (ValueError, RecursionError):
        refuse(WHOLE, "bad-json")
    return node(found, WHOLE)


def node(value: object, path: str) -> Node:
    """An object."""
    if not isinstance(value, dict):
        refuse(path, "wrong-type" if value is not None else "not-stated")
    return value


def find_node(parent: Node, path: str, key: str) -> Node | None:
    """An object that may not be there."""
    value = parent.get(key)
    return None if value is None else node(value, f"{path}.{key}")


def items(parent: Node, path: str, key: str) -> list[tuple[Node, str]]:
    """The objects of a list, each with its path; none where there is no list."""
    value = parent.get(key, [])
    if not isinstance(value, list):
        refuse(f"{path}.{key}", "wrong-type")
    return [(node(each, here), here) for n, each in enumerate(value) for here in (f"{path}.{key}[{n}]",)]


_LONGEST_TEXT = 200


def text(value: object, path: str) -> str:
    """A text that people can read."""
    if value is None:
        refuse(path, "not-stated")
    if not isinstance(value, str) or isinstance(value, Digits):
        refuse(path, "wrong-type")
    found = value.strip()
    if not 0 < len(found) <= _LONGEST_TEXT or not found.isprintable():
        refuse(path, "bad-text")
    return found


def find_text(parent: Node, path: str, key: str) -> str:
    """A text that may not be there; blank then."""
    value = parent.get(key)
    return "" if value is None else text(value, f"{path}.{key}")


def find_switch(parent: Node, path: str, key: str) -> bool | None:
    """True or false, or nothing."""
    value = parent.get(key)
    if value is not None and not isinstance(value, bool):
        refuse(f"{path}.{key}", "wrong-type")
    return value


# Of any more the value is refused anyhow; and an exponent may stand for a number that fills the memory.
_NUMBER = re.compile(r"[0-9]{1,20}(?:\.[0-9]{1,20})?(?:[eE][+-]?[0-9]{1,2})?")


def number(value: object, path: str) -> Fraction:
    """An exact number that is not below zero."""
    if value is None:
        refuse(path, "not-stated")
    if not isinstance(value, Digits):
        refuse(path, "wrong-type")
    if not _NUMBER.fullmatch(value):
        refuse(path, "bad-number")
    return Fraction(value)


def amount(value: Node, path: str, dimension: Dimension) -> tuple[Fraction, str]:
    """Number and unit of a Quantity, the unit as it is written here."""
    if value.get("comparator") is not None:
        refuse(f"{path}.comparator", "a-comparator")
    found = number(value.get("value"), f"{path}.value")
    code = find_text(value, path, "code")
    if "/kg" in code:
        refuse(f"{path}.code", "dose-for-weight")
    if value.get("system") != UCUM or not code or code.startswith("mcg"):
        refuse(f"{path}.code", "not-ucum")
    unit = UNITS[dimension].get(code)
    if unit is None:
        refuse(f"{path}.code", "unit-not-read")
    return found, unit


def written(
    value: Fraction, unit: str, path: str, dimension: Dimension, *, allowed: Range | None = None
) -> str:
    """An amount as a reading is written, once it is known to be one."""
    typed = f"{exact(value)} {unit}"
    read = parse_quantity(typed, dimension, allowed=allowed)
    if isinstance(read, Fault):
        refuse(path, "out-of-range" if read.code == "out-of-range" else "bad-number")
    return typed


def quantity(value: object, path: str, dimension: Dimension) -> str:
    """A Quantity as a reading is written: `1 mg`."""
    found, unit = amount(node(value, path), path, dimension)
    return written(found, unit, path, dimension)


def ratio(value: object, path: str) -> tuple[tuple[Node, str], tuple[Node, str]]:
    """Numerator and denominator of a Ratio, each with its path."""
    both = node(value, path)
    one, other = ((node(both.get(key), f"{path}.{key}"), f"{path}.{key}") for key in _PARTS)
    return one, other


_PARTS = ("numerator", "denominator")
