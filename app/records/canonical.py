"""One way of writing a document as bytes (RFC 8785), and its digest."""

import hashlib
import json
from typing import Any

import rfc8785

# An integer beyond it is not exact in a double (RFC 8785, 3.2.2.3).
_LARGEST = 2**53 - 1

# For a plain document it writes the one form, and many times as fast as the library that knows every form.
_ENCODER = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def canonical(document: Any) -> bytes:  # noqa: ANN401  # any JSON document
    """The RFC 8785 bytes of a JSON document; refuses NaN and integers of 2**53 and above."""
    if not _is_plain(document):
        return rfc8785.dumps(document)
    try:
        return _ENCODER.encode(document).encode()
    except UnicodeEncodeError:
        # Half a pair of surrogates. The library refuses it too, and without repeating the text.
        return rfc8785.dumps(document)


def _is_plain(value: Any) -> bool:  # noqa: ANN401  # as above
    """Text, truth, nothing and exact integers, in lists and under ASCII names, which sort alike anywhere."""
    if isinstance(value, str) or value is None:
        return True
    if isinstance(value, dict):
        named = all([isinstance(name, str) and name.isascii() for name in value])  # noqa: C419  # faster than one by one
        return named and all(map(_is_plain, value.values()))
    if isinstance(value, list | tuple):
        return all(map(_is_plain, value))
    return isinstance(value, int) and -_LARGEST <= value <= _LARGEST


def digest(content: bytes) -> str:
    """SHA-256 in lower-case hexadecimal."""
    return hashlib.sha256(content).hexdigest()
