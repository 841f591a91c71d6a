"""Unguessable ids, tokens and codes, and the digests under which tokens and codes are stored."""

import hashlib
import secrets
import unicodedata
from collections.abc import Callable

# No vowels, so that no code is a word; of each group that looks alike (0 O Q D, 1 I L, 2 Z, 5 S, 6 G, 8 B,
# U V) at most one is left.
CODE_ALPHABET = "CDFGHJKMNPRTVWXY3479"
JOIN_CODE_LENGTH = 6
# 16 of 20 signs are 69 bits: too many to try, even for someone who holds the digest.
ONE_TIME_CODE_LENGTH = 16

_BYTE_VALUES = 256

RandomBytes = Callable[[int], bytes]


def new_id() -> str:
    """An id that nobody can guess: 128 random bits."""
    return secrets.token_hex(16)


def new_token() -> str:
    """A session's token: 256 random bits. Only its digest is stored."""
    return secrets.token_urlsafe(32)


def token_digest(token: str) -> str:
    """What is stored of a token."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def make_code(random_bytes: RandomBytes = secrets.token_bytes) -> str:
    """A one-time code for a new account, in groups of four; its person replaces it by a secret."""
    signs = _signs(ONE_TIME_CODE_LENGTH, random_bytes)
    return "-".join(signs[start : start + 4] for start in range(0, len(signs), 4))


def make_join_code(random_bytes: RandomBytes = secrets.token_bytes) -> str:
    """A short code by which a second device finds a check; it opens nothing without signing in."""
    return _signs(JOIN_CODE_LENGTH, random_bytes)


def code_digest(code: str) -> str:
    """What is stored of a code; case, spaces and hyphens of a typed one do not count."""
    typed = unicodedata.normalize("NFKC", code).upper()
    signs = "".join(each for each in typed if not each.isspace() and each not in "-‐‑‒–—")  # noqa: RUF001  # hyphens that phones type
    return hashlib.sha256(signs.encode("utf-8", "surrogatepass")).hexdigest()


def _signs(length: int, random_bytes: RandomBytes) -> str:
    """Signs of the alphabet, each as likely as any other."""
    usable = _BYTE_VALUES - _BYTE_VALUES % len(CODE_ALPHABET)
    signs = ""
    while len(signs) < length:
        # A byte beyond the last whole multiple would favour the first signs.
        signs += "".join(
            CODE_ALPHABET[each % len(CODE_ALPHABET)] for each in random_bytes(length) if each < usable
        )
    return signs[:length]
