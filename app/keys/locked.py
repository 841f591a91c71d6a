"""Content locked under a secret: without the secret neither the database nor this program opens it."""

import secrets
from dataclasses import dataclass

from argon2 import Type
from argon2.low_level import hash_secret_raw
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from app.keys.hashing import AT_A_TIME, normalised
from app.keys.sealing import bound_to

# The first byte names how a lock was made, so that a later one may cost more and the old still open.
# 1: argon2id with 19 MiB, two passes, one lane (as for the secret's hash), then AES-256-GCM.
_VERSION = b"\x01"
_SALT_BYTES = 16
_NONCE_BYTES = 12
_KEY_BYTES = 32
_HEAD = len(_VERSION) + _SALT_BYTES + _NONCE_BYTES


@dataclass(frozen=True)
class WrongSecret:
    """The secret does not open it, or what is locked was changed or belongs elsewhere: these look alike."""


def lock(secret: str, context: tuple[str, ...], content: bytes) -> bytes:
    """The content, readable only with the secret and in its context; salt and nonce are fresh each time."""
    salt, nonce = secrets.token_bytes(_SALT_BYTES), secrets.token_bytes(_NONCE_BYTES)
    return _VERSION + salt + nonce + _cipher(secret, salt).encrypt(nonce, content, bound_to(context))


def unlock(secret: str, context: tuple[str, ...], locked: bytes) -> bytes | WrongSecret:
    """The content again."""
    if len(locked) <= _HEAD or locked[:1] != _VERSION:
        return WrongSecret()
    salt, nonce = locked[1 : 1 + _SALT_BYTES], locked[1 + _SALT_BYTES : _HEAD]
    try:
        return _cipher(secret, salt).decrypt(nonce, locked[_HEAD:], bound_to(context))
    except InvalidTag:
        return WrongSecret()


def _cipher(secret: str, salt: bytes) -> AESGCM:
    with AT_A_TIME:
        key = hash_secret_raw(
            normalised(secret),
            salt,
            time_cost=2,
            memory_cost=19 * 1024,
            parallelism=1,
            hash_len=_KEY_BYTES,
            type=Type.ID,
        )
    return AESGCM(key)
