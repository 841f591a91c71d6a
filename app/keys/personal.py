"""A person's own signing key: the private half is kept only locked under the person's secret.

It is Ed25519 (RFC 8032): signing needs no fresh randomness that could be weak, and OpenSSL and every current
JWS library verify it. P-256 keys (ES256) sign and verify as well, so that a change of algorithm strands no
record.
"""

from dataclasses import dataclass
from typing import Any

from joserfc.errors import JoseError
from joserfc.jwk import ECKey, OKPKey

from app.keys.locked import WrongSecret, lock, unlock
from app.keys.signatures import (
    CONFIRMATION_TYPE,
    ED25519,
    ES256,
    RecordHeader,
    SigningKey,
    algorithm_of,
    key_id,
    public_text,
    record_header,
    sign_detached_with,
)


@dataclass(frozen=True, kw_only=True)
class PersonalKey:
    """A key pair: `public` is a canonical JWK, `kid` its thumbprint, `sealed` the locked private half."""

    kid: str
    algorithm: str
    public: str
    sealed: bytes


def make_personal_key(secret: str, *, algorithm: str = ED25519) -> PersonalKey:
    """A fresh key pair, its private half locked under the secret."""
    made: SigningKey = ECKey.generate_key("P-256") if algorithm == ES256 else OKPKey.generate_key("Ed25519")
    public = public_text(made)
    return PersonalKey(
        kid=key_id(public),
        algorithm=algorithm_of(made),
        public=public,
        sealed=_locked(made, secret),
    )


def sign_detached(sealed: bytes, secret: str, payload: bytes, header: RecordHeader) -> str | WrongSecret:
    """Sign a record's bytes; the key is open only for this moment."""
    return _sign(sealed, secret, payload, kid=header.kid, header=record_header(header))


def sign_confirmation(sealed: bytes, secret: str, statement: bytes, *, kid: str) -> str | WrongSecret:
    """Sign the statement that a colleague's key was confirmed face to face."""
    return _sign(sealed, secret, statement, kid=kid, header={"typ": CONFIRMATION_TYPE})


def reseal(sealed: bytes, old: str, new: str, *, kid: str) -> bytes | WrongSecret:
    """The same private half, locked under a new secret."""
    key = _opened(sealed, old, kid)
    return key if isinstance(key, WrongSecret) else _locked(key, new)


def _sign(
    sealed: bytes, secret: str, payload: bytes, *, kid: str, header: dict[str, Any]
) -> str | WrongSecret:
    key = _opened(sealed, secret, kid)
    return key if isinstance(key, WrongSecret) else sign_detached_with(key, header, payload)


def _locked(key: SigningKey, secret: str) -> bytes:
    content = key.as_bytes(encoding="DER", private=True)
    return lock(secret, _context(key_id(public_text(key))), content)


def _opened(sealed: bytes, secret: str, kid: str) -> SigningKey | WrongSecret:
    """The private key; one that was put in another's place is as good as none."""
    content = unlock(secret, _context(kid), sealed)
    if isinstance(content, WrongSecret):
        return content
    key = _private_key(content)
    return key if key is not None and key_id(public_text(key)) == kid else WrongSecret()


def _private_key(content: bytes) -> SigningKey | None:
    for kind in (OKPKey, ECKey):
        try:
            key: SigningKey = kind.import_key(content)
        except (ValueError, JoseError):
            continue
        return key
    return None


def _context(kid: str) -> tuple[str, ...]:
    return ("personal key", kid)
