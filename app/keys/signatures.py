"""Detached JSON Web Signatures (RFC 7515, appendix F): the signature travels beside the bytes it is over.

The protected header of a signature on a record has exactly these names:

    alg           the algorithm, fully specified: Ed25519 (RFC 9864) or ES256 (RFC 7518)
    typ           countersign-record: what was signed is a record, never anything else
    kid           the thumbprint of the signer's public key (RFC 7638)
    user_id       the signer's account, as in the record
    printed_name  the signer's name as it stands beside the signature
    signed_at     date and time with the offset of the site's zone
    meaning       what signing meant
    record_id     the record, as in its bytes
    edition       the record's edition, as in its bytes

None is marked `crit`: a verifier that does not know the names still verifies the signature over them.
"""

import base64
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache
from typing import Any

from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import ECKey, OKPKey, thumbprint

from app.records.canonical import canonical

ED25519 = "Ed25519"
ES256 = "ES256"

RECORD_TYPE = "countersign-record"
CONFIRMATION_TYPE = "countersign-key-confirmation"

_SHAPE = re.compile(r"[A-Za-z0-9_-]{1,4096}\.\.[A-Za-z0-9_-]{86}")

SigningKey = OKPKey | ECKey
_KINDS: dict[Any, type[OKPKey | ECKey]] = {("OKP", "Ed25519"): OKPKey, ("EC", "P-256"): ECKey}


class _Registry(jws.JWSRegistry):
    """The library's own limits are for tokens in a web request; a record is larger, and so is its header."""

    max_header_length = 4096
    max_payload_length = 64 * 1024 * 1024


@dataclass(frozen=True, kw_only=True)
class RecordHeader:
    """What the signer's signature says besides the record itself."""

    kid: str
    user_id: str
    printed_name: str
    signed_at: datetime
    meaning: str
    record_id: str
    edition: int

    def __post_init__(self) -> None:
        if self.signed_at.tzinfo is None:
            raise ValueError("a time of signing has an offset")


@dataclass(frozen=True, kw_only=True)
class Verified:
    """The signature is over these bytes, by this key; the header is what the signer signed with them."""

    header: Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class NotValid:
    """The signature does not hold; `why` is one of the reasons below."""

    why: str


MALFORMED = "malformed"
OTHER_KEY = "other-key"
OTHER_ALGORITHM = "other-algorithm"
OTHER_TYPE = "other-type"
DOES_NOT_MATCH = "does-not-match"


def public_text(key: SigningKey) -> str:
    """The public half as a JWK in its one canonical form, with the members of RFC 7638 alone."""
    members = {name: str(value) for name, value in key.as_dict(private=False).items()}
    return canonical({name: members[name] for name in ("crv", "kty", "x", "y") if name in members}).decode()


@lru_cache(maxsize=1024)
def key_id(public: str) -> str:
    """The thumbprint of a public key (RFC 7638, SHA-256)."""
    return thumbprint(json.loads(public))


def sign_detached_with(key: SigningKey, header: Mapping[str, Any], payload: bytes) -> str:
    """A detached signature; algorithm and key id are put in front of the given header."""
    protected = {"alg": algorithm_of(key), "kid": key_id(public_text(key)), **header}
    registry = _Registry(algorithms=[algorithm_of(key)], strict_check_header=False)
    return jws.detach_content(jws.serialize_compact(protected, payload, key, registry=registry))


def verify_detached(signature: str, payload: bytes, public: str, *, typ: str) -> Verified | NotValid:
    """Whether it is over these bytes by this key; the key, never the header, says the algorithm."""
    key = _public_key(public)
    header = _header(signature)
    if key is None or header is None:
        return NotValid(why=MALFORMED)
    wanted = {"alg": algorithm_of(key), "kid": key_id(public), "typ": typ}
    reasons = {"alg": OTHER_ALGORITHM, "kid": OTHER_KEY, "typ": OTHER_TYPE}
    for name, value in wanted.items():
        if header.get(name) != value:
            return NotValid(why=reasons[name])
    return Verified(header=header) if _matches(signature, payload, public) else NotValid(why=DOES_NOT_MATCH)


# Of one record the stored signatures and those in its file are asked about, one after the other.
@lru_cache(maxsize=8)
def _matches(signature: str, payload: bytes, public: str) -> bool:
    key = _public_key(public)
    return key is not None and matches(signature, payload, key)


def matches(signature: str, payload: bytes, key: SigningKey) -> bool:
    """Whether the signature is over its own header and these bytes; what the header says is not asked."""
    registry = _Registry(algorithms=[algorithm_of(key)], strict_check_header=False)
    try:
        jws.deserialize_compact(signature, key, registry=registry, payload=payload)
    except JoseError:
        return False
    return True


def record_header(header: RecordHeader) -> dict[str, Any]:
    """The header's own names as JSON values."""
    named = {each.name: getattr(header, each.name) for each in fields(header) if each.name != "kid"}
    return {"typ": RECORD_TYPE, **named, "signed_at": header.signed_at.isoformat()}


def verify_record(signature: str, document: bytes, public: str) -> RecordHeader | NotValid:
    """What a valid signature on a record says; a header with a name too many or too few is not valid."""
    verified = verify_detached(signature, document, public, typ=RECORD_TYPE)
    if isinstance(verified, NotValid):
        return verified
    given = {name: value for name, value in verified.header.items() if name not in {"alg", "typ"}}
    names = {each.name for each in fields(RecordHeader)}
    if given.keys() != names or not _typed(given):
        return NotValid(why=MALFORMED)
    try:
        read = RecordHeader(**given | {"signed_at": datetime.fromisoformat(given["signed_at"])})
    except ValueError:
        return NotValid(why=MALFORMED)
    one_form = read.signed_at.isoformat() == given["signed_at"]
    return read if one_form else NotValid(why=MALFORMED)


def algorithm_of(key: SigningKey) -> str:
    """The only algorithm that a key of this kind signs with."""
    return ED25519 if isinstance(key, OKPKey) else ES256


def _typed(given: Mapping[str, Any]) -> bool:
    return all(type(value) is (int if name == "edition" else str) for name, value in given.items())


@lru_cache(maxsize=1024)
def _public_key(public: str) -> SigningKey | None:
    """The key, if the text is the one way of writing one of the two kinds that sign here."""
    document = _object(public)
    kind = _KINDS.get((document.get("kty"), document.get("crv"))) if document else None
    if document is None or kind is None or not all(type(value) is str for value in document.values()):
        return None
    try:
        key = kind.import_key(document)
    except (ValueError, JoseError):
        return None
    return key if public_text(key) == public else None


def _header(signature: str) -> dict[str, Any] | None:
    """The protected header, or None where the text is no detached signature."""
    if _SHAPE.fullmatch(signature) is None:
        return None
    written = signature.partition(".")[0]
    try:
        return _object(base64.urlsafe_b64decode(written + "=" * (-len(written) % 4)))
    except ValueError:
        return None


def _object(text: str | bytes) -> dict[str, Any] | None:
    """The JSON object in a text, or None; a name that stands twice would be read in two ways."""
    try:
        found = json.loads(text, object_pairs_hook=_each_name_once)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice")
    return found
