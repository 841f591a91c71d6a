"""Secrets are kept as argon2id hashes; checking one takes the same time whether the account exists or not."""

import threading
import unicodedata

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

# 19 MiB, two passes, one lane: the first of the minimum settings of the OWASP password storage cheat sheet.
_HASHER = PasswordHasher(
    time_cost=2, memory_cost=19 * 1024, parallelism=1, hash_len=32, salt_len=16, type=Type.ID
)

# What is checked when there is no account: the hash of a random secret that nobody kept.
DUMMY_HASH = (
    "$argon2id$v=19$m=19456,t=2,p=1$TtoRF57R/epDmFAj4JgFig$8Q5Et5f5cO2ntAegDY+3lbW6Ws4xX8nkQjbsLlHNtCI"
)

# Two at a time: many sign-ins at once would otherwise take all memory and both processors.
AT_A_TIME = threading.BoundedSemaphore(2)


def normalised(secret: str) -> bytes:
    """One form for one secret, however a keyboard composes accents (NFKC, as NIST SP 800-63B advises)."""
    return unicodedata.normalize("NFKC", secret).encode("utf-8", "surrogatepass")


def hash_secret(secret: str) -> str:
    """The argon2id hash, with its settings and a fresh salt in it; all of the secret counts."""
    with AT_A_TIME:
        return _HASHER.hash(normalised(secret))


def verify_secret(secret_hash: str | None, secret: str) -> bool:
    """Whether the secret is the one that was hashed; without a hash it works as long and says no."""
    try:
        with AT_A_TIME:
            _HASHER.verify(DUMMY_HASH if secret_hash is None else secret_hash, normalised(secret))
    except (VerificationError, InvalidHashError):
        return False
    return secret_hash is not None


def needs_rehash(secret_hash: str) -> bool:
    """Whether the hash was made with settings other than today's."""
    return _HASHER.check_needs_rehash(secret_hash)
