"""What storage keeps of the keys of people and of the site."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class KeptKey:
    """The public half of a person's signing key; `issuer` gave the one-time code with which it was made.

    `made_on` is the screen at which the secret was set, empty in a demonstration.

    `attestation` is the installation's word for the rest of the row, which the database alone cannot make.
    """

    kid: str
    person: str
    algorithm: str
    public: str
    made_at: datetime
    issuer: str
    made_on: str
    attestation: str


@dataclass(frozen=True, kw_only=True)
class KeyConfirmation:
    """A colleague met the key's person face to face: the statement, signed with the colleague's own key."""

    kid: str
    confirmed_by: str
    confirmed_at: datetime
    confirmer_kid: str
    statement: bytes
    jws: str
    attestation: str


@dataclass(frozen=True, kw_only=True)
class KeyRetirement:
    """From then on the key signs nothing; what it signed before stays signed."""

    kid: str
    retired_at: datetime
    why: str


@dataclass(frozen=True, kw_only=True)
class IssuedCode:
    """Who gave a person a one-time code, and whether with it the account was made or reset.

    `code` is the digest of the code's hash.
    """

    code: str
    person: str
    what: str
    issuer: str
    issued_at: datetime
    attestation: str


@dataclass(frozen=True, kw_only=True)
class CodeTold:
    """A person has read that this code was given, in the place of somebody's secret."""

    code: str
    person: str
    told_at: datetime


@dataclass(frozen=True, kw_only=True)
class Authenticator:
    """What a person gives beside the secret: an app that shows codes, or a passkey.

    What is needed to know it again is `sealed`. What was given last was made at `used_until`: nothing of then
    or before is taken again. A passkey counts its own uses.
    """

    id: str
    person: str
    kind: str
    sealed: bytes
    used_until: int
    sign_count: int


@dataclass(frozen=True, kw_only=True)
class KeptSiteKey:
    """The public half of a key of the site, as a certificate (PEM)."""

    kid: str
    purpose: str
    certificate: str
    made_at: datetime
