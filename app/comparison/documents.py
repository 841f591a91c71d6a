"""The plain structure of a case: keys, types, texts; the first thing that is wrong ends the reading."""

import json
from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import NoReturn

from app.comparison.case import CaseError
from app.comparison.moments import Moment, find_end_of_month, find_moment
from app.comparison.readings import Amount, DoseAsVolume
from app.quantities import Fault, parse_one_of_two, parse_quantity
from app.records.measures import Measure

Node = Mapping[str, object]

WHOLE = "case"
"""The path of the whole case."""


class RefusedError(Exception):
    """Carries a case's first error up to `read_case`, which gives it back as a value."""

    def __init__(self, error: CaseError) -> None:
        super().__init__()
        self.error = error


def refuse(path: str, code: str, message: str) -> NoReturn:
    """End the reading of a case."""
    raise RefusedError(CaseError(path=path, code=code, message=message))


def load(text: str | bytes) -> object:
    """The JSON value of a text: no key twice, no NaN."""
    try:
        return _DECODER.decode(text if isinstance(text, str) else text.decode())
    except (ValueError, RecursionError):
        refuse(WHOLE, "bad-json", "This is no JSON text, or a key stands in it twice.")


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError  # A key stands there twice.
    return found


def _refuse_constant(_: str) -> NoReturn:
    raise ValueError  # NaN and the infinities are no JSON.


_MOST_DIGITS = 9


def _integer(digits: str) -> object:
    """An integer of a size that a case can hold; a longer one only has to be out of every range."""
    return int(digits) if len(digits) <= _MOST_DIGITS else 10**_MOST_DIGITS


def _no_integer(_: str) -> object:
    """A number with a point or an exponent: no case holds one, so only its being something else counts."""
    return object()


_DECODER = json.JSONDecoder(
    object_pairs_hook=_object, parse_constant=_refuse_constant, parse_float=_no_integer, parse_int=_integer
)


def node(value: object, path: str, keys: frozenset[str] | None) -> Node:
    """An object that has no other keys than these; None: any keys."""
    if not isinstance(value, dict):
        refuse(path, "wrong-type", "An object is expected here.")
    if keys is not None and not value.keys() <= keys:
        unknown = next(key for key in value if key not in keys)
        refuse(below(path, unknown), "unknown-key", "This key is not known here.")
    return value


def below(path: str, key: str) -> str:
    """The path of a key in the object at a path; in the case itself the key alone."""
    return key if path == WHOLE else f"{path}.{key}"


def find_node(parent: Node, path: str, key: str, keys: frozenset[str] | None) -> Node | None:
    """An object that may be absent or null."""
    value = parent.get(key)
    return None if value is None else node(value, below(path, key), keys)


def get(parent: Node, path: str, key: str) -> object:
    """A value that must be there."""
    if key not in parent:
        refuse(below(path, key), "missing-key", "This key is needed.")
    return parent[key]


def text(value: object, path: str) -> str:
    """A text."""
    if not isinstance(value, str):
        refuse(path, "wrong-type", "A text is expected here.")
    return value


def find_text(parent: Node, path: str, key: str) -> str | None:
    """A text that may be absent or null; blank is absent."""
    value = parent.get(key)
    if value is None:
        return None
    found = text(value, f"{path}.{key}")
    return found if found.strip() else None


def find_switch(parent: Node, path: str, key: str) -> bool | None:
    """True or false, or absent or null."""
    value = parent.get(key)
    if value is not None and not isinstance(value, bool):
        refuse(f"{path}.{key}", "wrong-type", "True or false is expected here.")
    return value


def find_integer(parent: Node, path: str, key: str, allowed: range) -> int | None:
    """A whole number within a range, or absent or null."""
    value = parent.get(key)
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool):
        refuse(f"{path}.{key}", "wrong-type", "A whole number is expected here, without point or exponent.")
    if value not in allowed:
        refuse(f"{path}.{key}", "out-of-range", f"This must lie between {allowed[0]} and {allowed[-1]}.")
    return value


def find_list(parent: Node, path: str, key: str) -> list[tuple[object, str]] | None:
    """A list that may be absent or null: every element with its path."""
    value = parent.get(key)
    if value is None:
        return None
    here = below(path, key)
    if not isinstance(value, list):
        refuse(here, "wrong-type", "A list is expected here.")
    return [(element, f"{here}[{place}]") for place, element in enumerate(value)]


def choice(value: object, path: str, choices: Sequence[str]) -> str:
    """One of a few texts."""
    chosen = text(value, path)
    if chosen not in choices:
        refuse(path, "unknown-value", f"This must be {' or '.join(choices)}.")
    return chosen


def find_choice(parent: Node, path: str, key: str, choices: Sequence[str]) -> str | None:
    """One of a few texts, or absent or null."""
    value = parent.get(key)
    return None if value is None else choice(value, f"{path}.{key}", choices)


def find_moment_at(
    parent: Node, path: str, key: str, *, month_allowed: bool = False
) -> tuple[str, Moment] | None:
    """A day or an instant, as typed and as meant, or absent or null; a month is its last day."""
    value = parent.get(key)
    if value is None:
        return None
    typed = text(value, f"{path}.{key}")
    moment = find_moment(typed) or (find_end_of_month(typed) if month_allowed else None)
    if moment is None:
        refuse(f"{path}.{key}", "bad-time", "Write a day as YYYY-MM-DD, a time as YYYY-MM-DDThh:mm+hh:mm.")
    return typed, moment


def find_day(parent: Node, path: str, key: str) -> tuple[str, date] | None:
    """A day, as typed and as meant, or absent or null."""
    found = find_moment_at(parent, path, key)
    if found is None:
        return None
    if found[1].instant is not None:
        refuse(f"{path}.{key}", "bad-time", "Write a day as YYYY-MM-DD, without a time.")
    return found[0], found[1].day


class Quantities:
    """The quantities of one case: the same text in the same measure is read once."""

    def __init__(self) -> None:
        # For one case only: kept longer, what one person typed would make another's case quicker.
        self._read: dict[tuple[Measure, str], Amount] = {}
        self._strengths: dict[tuple[str, str], Amount] = {}

    @property
    def known(self) -> Mapping[tuple[Measure, str], Amount]:
        """What was read so far."""
        return self._read

    def take_over(self, known: Mapping[tuple[Measure, str], Amount]) -> None:
        """What was read elsewhere is not read again."""
        self._read |= known

    def get(self, value: object, path: str, measure: Measure) -> Amount:
        """The quantity that a text states."""
        typed = text(value, path)
        key = (measure, typed)
        if key not in self._read:
            self._read[key] = _amount(typed, path, measure)
        return self._read[key]

    def dose(
        self, value: object, path: str, measures: tuple[Measure, Measure], *, in_volumes: bool | None
    ) -> Amount | DoseAsVolume:
        """A dose that may be a mass or a volume; where it is settled which, the other is refused."""
        typed = text(value, path)
        as_mass, as_volume = measures
        if not in_volumes and (as_mass, typed) in self._read:
            return self._read[as_mass, typed]
        settled = None if in_volumes is None else (as_volume if in_volumes else as_mass).dimension
        kinds = (as_mass.dimension, as_volume.dimension)
        quantity = parse_one_of_two(typed, kinds, settled=settled, zero_allowed=as_mass.zero_allowed)
        if isinstance(quantity, Fault):
            refuse(path, quantity.code, quantity.says)
        if quantity.dimension is as_volume.dimension:
            return DoseAsVolume(typed=typed, volume=quantity.value, value=None)
        amount = self._read[as_mass, typed] = Amount(typed=typed, value=quantity.value)
        return amount

    def find(self, parent: Node, path: str, key: str, measure: Measure) -> Amount | None:
        """A quantity that may be absent or null."""
        value = parent.get(key)
        return None if value is None else self.get(value, f"{path}.{key}", measure)

    def find_value(self, parent: Node, path: str, key: str, measure: Measure) -> Fraction | None:
        """A quantity that may be absent or null, in the unit of its dimension."""
        amount = self.find(parent, path, key, measure)
        return None if amount is None else amount.value

    def strength(self, amount: Amount, volume: Amount) -> Amount:
        """The concentration that an amount and a volume make, written as `50 mg/50 mL`."""
        key = (amount.typed, volume.typed)
        if key not in self._strengths:
            strength = Amount(typed=f"{amount.typed}/{volume.typed}", value=amount.value / volume.value)
            self._strengths[key] = strength
        return self._strengths[key]


def _amount(typed: str, path: str, measure: Measure) -> Amount:
    quantity = parse_quantity(
        typed, measure.dimension, zero_allowed=measure.zero_allowed, allowed=measure.allowed
    )
    if isinstance(quantity, Fault):
        refuse(path, quantity.code, quantity.says)
    return Amount(typed=typed, value=quantity.value)
