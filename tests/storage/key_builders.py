# ruff: noqa: ANN401  # a builder takes any field of what it builds
"""Rows of keys and checkpoints; each test names only what it is about.

What they hold is text that looks like nothing: whether a signature is one is tested where they are made.
"""

from typing import Any

from app.records.checkpoint import Checkpoint
from app.records.kept_keys import (
    Authenticator,
    CodeTold,
    IssuedCode,
    KeptKey,
    KeptSiteKey,
    KeyConfirmation,
    KeyRetirement,
)
from app.storage import Transaction
from tests.storage.builders import NOW, later


def issued_code(person: str = "amari", **given: Any) -> IssuedCode:
    usual: dict[str, Any] = {
        "code": f"digest of {person}'s code",
        "person": person,
        "what": "made",
        "issuer": "operator",
        "issued_at": NOW,
        "attestation": "attested",
    }
    return IssuedCode(**usual | given)


def code_told(**given: Any) -> CodeTold:
    usual: dict[str, Any] = {"code": "digest of dara's code", "person": "amari", "told_at": later(4)}
    return CodeTold(**usual | given)


def key(person: str = "amari", **given: Any) -> KeptKey:
    usual: dict[str, Any] = {
        "kid": f"key of {person}",
        "person": person,
        "algorithm": "Ed25519",
        "public": f"public half of {person}",
        "made_at": later(1),
        "issuer": "operator",
        "made_on": "a screen",
        "attestation": "attested",
    }
    return KeptKey(**usual | given)


def authenticator(person: str = "amari", **given: Any) -> Authenticator:
    usual: dict[str, Any] = {
        "id": f"app of {person}",
        "person": person,
        "kind": "code",
        "sealed": b"sealed",
        "used_until": 5,
        "sign_count": 0,
    }
    return Authenticator(**usual | given)


def confirmation(person: str = "amari", by: str = "birk", **given: Any) -> KeyConfirmation:
    usual: dict[str, Any] = {
        "kid": f"key of {person}",
        "confirmed_by": by,
        "confirmed_at": later(2),
        "confirmer_kid": f"key of {by}",
        "statement": b'{"confirmed":"invented"}',
        "jws": "a..b",
        "attestation": "attested",
    }
    return KeyConfirmation(**usual | given)


def retirement(person: str = "amari", **given: Any) -> KeyRetirement:
    usual: dict[str, Any] = {"kid": f"key of {person}", "retired_at": later(3), "why": "reset"}
    return KeyRetirement(**usual | given)


def site_key(**given: Any) -> KeptSiteKey:
    usual: dict[str, Any] = {
        "kid": "key of the site",
        "purpose": "checkpoint",
        "certificate": "a certificate",
        "made_at": NOW,
    }
    return KeptSiteKey(**usual | given)


def checkpoint(**given: Any) -> Checkpoint:
    usual: dict[str, Any] = {
        "size": 1,
        "root": "ab" * 32,
        "at": later(9),
        "kid": "key of the site",
        "signature": "cd" * 64,
    }
    return Checkpoint(**usual | given)


def add_keys(tx: Transaction) -> None:
    """Amari and birk have confirmed each other, chidi's key waits, and dara's is retired."""
    for person in ("amari", "birk", "chidi", "dara"):
        tx.add_issued_code(issued_code(person))
        tx.add_key(key(person), sealed=f"locked half of {person}".encode())
    tx.confirm_key(confirmation("amari", "birk"))
    tx.confirm_key(confirmation("birk", "amari"))
    tx.retire_key(retirement("dara"))
    tx.add_code_told(code_told())
    tx.add_authenticator(authenticator())
