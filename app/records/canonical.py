"""One way of writing a document as bytes (RFC 8785), and its digest."""

import hashlib
from collections.abc import Iterable
from typing import Any

import orjson
import rfc8785

# An integer beyond it is not exact in a double (RFC 8785, 3.2.2.3).
_LARGEST = 2**53 - 1


def canonical(document: Any) -> bytes:  # noqa: ANN401  # any JSON document
    """The RFC 8785 bytes of a JSON document; refuses NaN and integers of 2**53 and above."""
    try:
        if _is_plain(document):
            # Of a plain document this is the one form, many times as fast as by the library of every form.
            return orjson.dumps(document, option=orjson.OPT_SORT_KEYS)
    except TypeError:
        # A name that is no text, or half a pair of surrogates: refused below, without repeating the text.
        pass
    return rfc8785.dumps(document)


def _is_plain(value: Any) -> bool:  # noqa: ANN401  # as above
    """Text, truth, nothing and exact integers, in lists and under ASCII names, which sort alike anywhere."""
    if isinstance(value, dict):
        return "".join(value).isascii() and _are_plain(value.values())
    if isinstance(value, list | tuple):
        return _are_plain(value)
    if isinstance(value, int):
        return -_LARGEST <= value <= _LARGEST
    return value is None or isinstance(value, str)


def _are_plain(values: Iterable[Any]) -> bool:
    # Most values are text; a list is quicker than asking for one after the other.
    return all([type(each) is str or _is_plain(each) for each in values])  # noqa: C419  # as just said


def digest(content: bytes) -> str:
    """SHA-256 in lower-case hexadecimal."""
    return hashlib.sha256(content).hexdigest()
