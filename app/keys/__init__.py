"""Secrets, tokens and codes, and the sealed envelopes of what is read blind."""

from app.keys.choosing import SecretFault, secret_fault
from app.keys.hashing import hash_secret, needs_rehash, verify_secret
from app.keys.sealing import (
    CONTENT_AT_MOST,
    ENVELOPE_SIZE,
    ApplicationKey,
    EnvelopeBroken,
    commitment,
    create_key_file,
    load_key,
    new_salt,
    open_envelope,
    seal,
)
from app.keys.tokens import code_digest, make_code, make_join_code, new_id, new_token, token_digest

__all__ = [
    "CONTENT_AT_MOST",
    "ENVELOPE_SIZE",
    "ApplicationKey",
    "EnvelopeBroken",
    "SecretFault",
    "code_digest",
    "commitment",
    "create_key_file",
    "hash_secret",
    "load_key",
    "make_code",
    "make_join_code",
    "needs_rehash",
    "new_id",
    "new_salt",
    "new_token",
    "open_envelope",
    "seal",
    "secret_fault",
    "token_digest",
    "verify_secret",
]
