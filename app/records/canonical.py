"""One way of writing a document as bytes (RFC 8785), and its digest."""

import hashlib
from typing import Any

import rfc8785


def canonical(document: Any) -> bytes:  # noqa: ANN401  # any JSON document
    """The RFC 8785 bytes of a JSON document; refuses NaN and integers of 2**53 and above."""
    return rfc8785.dumps(document)


def digest(content: bytes) -> str:
    """SHA-256 in lower-case hexadecimal."""
    return hashlib.sha256(content).hexdigest()
