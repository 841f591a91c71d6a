"""Ways in which a file comes to harm: the same damage for the same number, on every run."""

import json
import random  # noqa: TID251  # the same lot on every run, which is nobody's secret
from collections.abc import Iterator
from typing import Any

# A stretch that is lost, doubled or moved: as long as a sector of a disk, or shorter.
_STRETCH = 512

# What stands where something else was meant; the numbers are beyond what a float, an index or a date can be.
_INSTEAD: tuple[Any, ...] = (
    *(None, True, 0, -1, 2**53, 10**400, -(10**30), 1.5, 1e308),
    *("", "0", "x", "\ud800", "\0", "9" * 5000, "2031-05-02", "1e999999999"),
    *([], {}, [[]], [None], {"a": 1}),
)


def damaged(content: bytes, number: int) -> bytes:
    """The content, harmed: most often by one bit, else a stretch is lost, zeroed, doubled or moved."""
    lot = random.Random(number)  # noqa: S311  # damage by lot, the same every time
    return lot.choice((*[_flipped] * 4, _cut, _lost, _zeroed, _doubled, _spliced))(content, lot)


def harmed_json(content: bytes, number: int) -> bytes:
    """A JSON document with a value of another kind somewhere in it, without a name, or with one too many."""
    lot = random.Random(number)  # noqa: S311  # as above
    document = json.loads(content)
    places = list(_places(document))
    inside, key = lot.choice(places)
    how = lot.randrange(4)
    if how == 0:
        del inside[key]
    elif how == 1:
        other, other_key = lot.choice(places)
        inside[key] = json.loads(json.dumps(other[other_key]))
    else:
        inside[key] = lot.choice(_INSTEAD)
    return json.dumps(document).encode("utf-8", "surrogatepass")


def _places(value: Any) -> Iterator[tuple[Any, Any]]:  # noqa: ANN401  # any JSON value
    keys = value if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    for key in keys:
        yield value, key
        yield from _places(value[key])


def _flipped(content: bytes, lot: random.Random) -> bytes:
    at = lot.randrange(len(content))
    return content[:at] + bytes([content[at] ^ 1 << lot.randrange(8)]) + content[at + 1 :]


def _cut(content: bytes, lot: random.Random) -> bytes:
    return content[: lot.randrange(len(content))]


def _lost(content: bytes, lot: random.Random) -> bytes:
    at, length = _stretch(content, lot)
    return content[:at] + content[at + length :]


def _zeroed(content: bytes, lot: random.Random) -> bytes:
    at, length = _stretch(content, lot)
    return content[:at] + bytes(length) + content[at + length :]


def _doubled(content: bytes, lot: random.Random) -> bytes:
    at, length = _stretch(content, lot)
    return content[: at + length] + content[at:]


def _spliced(content: bytes, lot: random.Random) -> bytes:
    at, length = _stretch(content, lot)
    to = lot.randrange(len(content))
    return content[:to] + content[at : at + length] + content[to + length :]


def _stretch(content: bytes, lot: random.Random) -> tuple[int, int]:
    at = lot.randrange(len(content))
    return at, min(lot.randint(1, _STRETCH), len(content) - at)
