"""Codes of an authenticator app: time-based one-time passwords (RFC 6238) of six digits, each of 30 s."""

import base64
import hmac
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from urllib.parse import quote, urlencode

from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.hotp import HOTP

from app.keys.sealing import ApplicationKey

CODE_LENGTH = 6
_LASTS = timedelta(seconds=30)
# Of the app's clock; RFC 6238, 5.2, recommends one step at the most.
_STEPS_OFF = (0, -1, 1)
# RFC 4226, 4 (R6), recommends 160 bits.
_SECRET_BYTES = 20
_PURPOSE = "countersign authenticators 1"
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def code_secret(key: ApplicationKey, *, session: str, chosen: str) -> bytes:
    """The secret that an app is shown: the same for one session and one page, and kept nowhere until then."""
    made = hmac.new(key.for_purpose(_PURPOSE), f"{session} {chosen}".encode(), sha256)
    return made.digest()[:_SECRET_BYTES]


def written(secret: bytes) -> str:
    """The secret as an app takes it, in groups of four that a person can type."""
    text = base64.b32encode(secret).decode()
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def address_for_app(secret: bytes, *, login: str, site: str) -> str:
    """What a square code shows an app; the form is the one that every app reads."""
    label = quote(f"{site}:{login}")
    return (
        f"otpauth://totp/{label}?{urlencode({'secret': base64.b32encode(secret).decode(), 'issuer': site})}"
    )


def step_of(secret: bytes, code: str, now: datetime) -> int | None:
    """Which step of time a code is of, counted from 1970; None for one that is of none about now."""
    current = (now - _EPOCH) // _LASTS
    app = HOTP(secret, CODE_LENGTH, SHA1(), enforce_key_length=False)  # noqa: S303  # what RFC 6238 names
    typed = code.encode("utf-8", "surrogatepass")
    right = [current + off for off in _STEPS_OFF if hmac.compare_digest(app.generate(current + off), typed)]
    return right[0] if right else None
