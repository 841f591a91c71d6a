"""What is vouched for and what is signed about people's keys, each written in one way.

A confirmation is the statement of a colleague, in the colleague's own signature, that the person who holds a
key was met face to face. It names the person as their signatures will.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

from app.records.canonical import canonical
from app.records.formats import KEY_CONFIRMATION
from app.records.kept_keys import IssuedCode, KeptKey, KeyConfirmation

MEANING = (
    "I met this person face to face, I know who this is, and I saw this key's id on this person's own page."
)


@dataclass(frozen=True, kw_only=True)
class Holder:
    """Whose key it is, as the colleague knew this person."""

    person: str
    login: str
    staff_number: str
    printed_name: str


def code_facts(code: IssuedCode) -> dict[str, str]:
    """Who gave which code to whom."""
    return {
        "code": code.code,
        "person": code.person,
        "what": code.what,
        "issuer": code.issuer,
        "at": _time(code.issued_at),
    }


def key_facts(key: KeptKey) -> dict[str, str]:
    """Whose key it is, and who gave the code with which it was made."""
    return {
        "kid": key.kid,
        "person": key.person,
        "algorithm": key.algorithm,
        "public": key.public,
        "made_at": _time(key.made_at),
        "issuer": key.issuer,
        "made_on": key.made_on,
    }


def confirmation_facts(confirmation: KeyConfirmation) -> dict[str, str]:
    """Who confirmed which key, with which signature."""
    return {
        "kid": confirmation.kid,
        "confirmed_by": confirmation.confirmed_by,
        "confirmed_at": _time(confirmation.confirmed_at),
        "confirmer_kid": confirmation.confirmer_kid,
        "statement": confirmation.statement.decode(),
        "jws": confirmation.jws,
    }


def confirmation_statement(key: KeptKey, holder: Holder, *, by: str, at: datetime) -> bytes:
    """The bytes that the colleague signs."""
    return canonical(
        {
            "format": KEY_CONFIRMATION.newest,
            "meaning": MEANING,
            "kid": key.kid,
            "public": key.public,
            "person": holder.person,
            "login": holder.login,
            "staff_number": holder.staff_number,
            "printed_name": holder.printed_name,
            "confirmed_by": by,
            "confirmed_at": _time(at),
        }
    )


def is_about(confirmation: KeyConfirmation, key: KeptKey, holder: Holder) -> bool:
    """Whether the statement is the one about this key in the hands of this person, named as today."""
    at = confirmation.confirmed_at
    return confirmation.statement == confirmation_statement(key, holder, by=confirmation.confirmed_by, at=at)


def _time(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="microseconds")
