"""Passkeys (Web Authentication, W3C): what an authenticator answers to a challenge of ours, for one host.

A challenge is kept nowhere: it says when it was made, and carries a code of the installation's key over that
and over what it was made for. Whoever takes an answer keeps when its challenge was made, and takes none of
then or before again: so each answer counts once.
"""

import hmac
import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256

from fido2.server import Fido2Server
from fido2.utils import websafe_encode
from fido2.webauthn import (
    AttestedCredentialData,
    AuthenticationResponse,
    PublicKeyCredentialRpEntity,
    RegistrationResponse,
)

from app.base.damage import Damaged, read_or_damaged
from app.keys.sealing import ApplicationKey

CHALLENGE_LIFE = timedelta(minutes=5)
_PURPOSE = "countersign passkey challenges 1"
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_TIME_BYTES, _RANDOM_BYTES, _CODE_BYTES = 8, 16, 32


@dataclass(frozen=True, kw_only=True)
class Party:
    """Whom a passkey is made for: the host, and the origin of its pages."""

    host: str
    origin: str


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What came from a page, as JSON, and what a challenge had to be made for to count."""

    response: str
    party: Party
    made_for: str


@dataclass(frozen=True, kw_only=True)
class NewPasskey:
    """A passkey that was just made; `content` is what is needed to know it again."""

    content: bytes
    until: int
    sign_count: int


@dataclass(frozen=True, kw_only=True)
class Answered:
    """Which of several passkeys answered, and when its challenge was made."""

    number: int
    until: int
    sign_count: int


def new_challenge(key: ApplicationKey, now: datetime, made_for: str) -> str:
    """A challenge for one screen or session, and one act."""
    said = _micros(now).to_bytes(_TIME_BYTES) + secrets.token_bytes(_RANDOM_BYTES)
    return websafe_encode(said + _code(key, said, made_for))


def read_new_passkey(key: ApplicationKey, now: datetime, answer: Answer) -> NewPasskey | None:
    """The passkey that was made, if it was made here, for this, and just now."""

    def read() -> NewPasskey | None:
        response = RegistrationResponse.from_dict(json.loads(answer.response))
        challenge = response.response.client_data.challenge
        until = _made_at(key, now, challenge, answer.made_for)
        if until is None:
            return None
        made = _server(answer.party).register_complete(_state(challenge), response)
        assert made.credential_data is not None  # noqa: S101  # the library has looked
        return NewPasskey(content=bytes(made.credential_data), until=until, sign_count=made.counter)

    found = read_or_damaged(read)
    return None if isinstance(found, Damaged) else found


def read_answer(
    key: ApplicationKey, now: datetime, answer: Answer, passkeys: Sequence[bytes]
) -> Answered | None:
    """Which of a person's passkeys answered, if one did, here, for this, and just now."""

    def read() -> Answered | None:
        response = AuthenticationResponse.from_dict(json.loads(answer.response))
        challenge = response.response.client_data.challenge
        until = _made_at(key, now, challenge, answer.made_for)
        if until is None:
            return None
        known = [AttestedCredentialData(each) for each in passkeys]
        which = _server(answer.party).authenticate_complete(_state(challenge), known, response)
        count = response.response.authenticator_data.counter
        return Answered(number=known.index(which), until=until, sign_count=count)

    found = read_or_damaged(read)
    return None if isinstance(found, Damaged) else found


def _server(party: Party) -> Fido2Server:
    """The library's checks, for one host and exactly one origin."""
    entity = PublicKeyCredentialRpEntity(id=party.host, name=party.host)
    return Fido2Server(entity, verify_origin=lambda origin: origin == party.origin)


def _state(challenge: bytes) -> dict[str, object]:
    # That the person was recognised by the authenticator is not asked: the secret is given beside it.
    return {"challenge": websafe_encode(challenge), "user_verification": None}


def _made_at(key: ApplicationKey, now: datetime, challenge: bytes, made_for: str) -> int | None:
    """When a challenge of ours was made, in microseconds from 1970; None for any other, and one too old."""
    said, code = challenge[:-_CODE_BYTES], challenge[-_CODE_BYTES:]
    is_whole = len(said) == _TIME_BYTES + _RANDOM_BYTES
    if not is_whole or not hmac.compare_digest(code, _code(key, said, made_for)):
        return None
    at = int.from_bytes(said[:_TIME_BYTES])
    return at if 0 <= _micros(now) - at <= CHALLENGE_LIFE // _MICROSECOND else None


def _code(key: ApplicationKey, said: bytes, made_for: str) -> bytes:
    signed = said + made_for.encode("utf-8", "surrogatepass")
    return hmac.new(key.for_purpose(_PURPOSE), signed, sha256).digest()


def _micros(at: datetime) -> int:
    return (at - _EPOCH) // _MICROSECOND
