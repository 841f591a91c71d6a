"""Sealed envelopes: drafts and readings, unreadable to whoever has the database but not the application key.

An envelope is AES-256-GCM over its content, padded so that all envelopes have one size, and bound to a
context (which check, round and person): moved elsewhere it does not open.
"""

import hashlib
import secrets
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from app.config import create_key_file as write_key_file
from app.config import read_key_file
from app.records.formats import ENVELOPE, UnknownFormat, UnknownFormatError

KEY_BYTES = 32
SALT_BYTES = 32
ENVELOPE_SIZE = 16 * 1024

# An envelope says its version by its first byte.
_VERSION = bytes([ENVELOPE.versions[-1]])
_NONCE_BYTES = 12
_TAG_BYTES = 16
_LENGTH_BYTES = 4
_AROUND = len(_VERSION) + _NONCE_BYTES + _TAG_BYTES
CONTENT_AT_MOST = ENVELOPE_SIZE - _AROUND - _LENGTH_BYTES


class EnvelopeBroken(Exception):  # noqa: N818  # named for what happened
    """The envelope was changed, belongs elsewhere, or was sealed with another key."""


class UnknownEnvelopeError(EnvelopeBroken, UnknownFormatError):
    """Its first byte says a version that this program does not know, or was changed."""


@dataclass(frozen=True, kw_only=True)
class ApplicationKey:
    """The installation's key, kept in a file outside the database."""

    # Never shown: reprs end up in logs.
    content: bytes = field(repr=False)

    def __post_init__(self) -> None:
        if len(self.content) != KEY_BYTES:
            raise ValueError(f"an application key is {KEY_BYTES} bytes")

    def for_purpose(self, purpose: str) -> bytes:
        """A key of its own for each purpose (HKDF, RFC 5869): what one makes is worthless to another."""
        return HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=None, info=purpose.encode()).derive(
            self.content
        )


def create_key_file(path: Path) -> ApplicationKey:
    """A fresh key in a new file that only its owner may read; never over an old one (FileExistsError)."""
    key = ApplicationKey(content=secrets.token_bytes(KEY_BYTES))
    write_key_file(path, key.content)
    return key


def load_key(path: Path) -> ApplicationKey:
    """The key in a file; WrongSettingError says what is wrong with it."""
    return ApplicationKey(content=read_key_file(path))


def seal(
    key: ApplicationKey, context: tuple[str, ...], content: bytes, *, size: int = ENVELOPE_SIZE
) -> bytes:
    """An envelope of this many bytes; ValueError when the content is longer than it holds."""
    if len(content) > size - _AROUND - _LENGTH_BYTES:
        raise ValueError(f"an envelope holds at most {size - _AROUND - _LENGTH_BYTES} bytes")
    nonce = secrets.token_bytes(_NONCE_BYTES)
    padded = (len(content).to_bytes(_LENGTH_BYTES) + content).ljust(size - _AROUND, b"\0")
    return _VERSION + nonce + _cipher(key).encrypt(nonce, padded, bound_to(context))


def open_envelope(
    key: ApplicationKey, context: tuple[str, ...], envelope: bytes, *, size: int = ENVELOPE_SIZE
) -> bytes:
    """The content; EnvelopeBroken unless it is exactly what was sealed with this key in this context."""
    if len(envelope) != size:
        raise EnvelopeBroken
    if envelope[:1] != _VERSION:
        raise UnknownEnvelopeError(UnknownFormat(what=ENVELOPE.what, said=ENVELOPE.said(envelope[0])))
    nonce, sealed = envelope[1 : 1 + _NONCE_BYTES], envelope[1 + _NONCE_BYTES :]
    try:
        padded = _cipher(key).decrypt(nonce, sealed, bound_to(context))
    except InvalidTag:
        raise EnvelopeBroken from None
    length = int.from_bytes(padded[:_LENGTH_BYTES])
    return padded[_LENGTH_BYTES : _LENGTH_BYTES + length]


def new_salt() -> bytes:
    """A fresh salt for one commitment; it stays inside the envelope."""
    return secrets.token_bytes(SALT_BYTES)


def commitment(salt: bytes, content: bytes) -> str:
    """What fixes a reading without telling it: plausible doses are few enough to try all, salts are not."""
    if len(salt) != SALT_BYTES:
        raise ValueError(f"a salt is {SALT_BYTES} bytes")
    return hashlib.sha256(b"countersign commitment 1" + salt + content).hexdigest()


def _cipher(key: ApplicationKey) -> AESGCM:
    return AESGCM(key.for_purpose("countersign envelopes 1"))


def bound_to(context: tuple[str, ...]) -> bytes:
    """The context as bytes; each part with its length, so that no two contexts are written alike."""
    parts = [part.encode() for part in context]
    return _VERSION + b"".join(len(part).to_bytes(_LENGTH_BYTES) + part for part in parts)
