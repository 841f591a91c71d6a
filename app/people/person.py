"""One account, one person."""

from dataclasses import dataclass
from datetime import datetime

from app.people.roles import Role


@dataclass(frozen=True, kw_only=True)
class Person:
    """An account. `secret_hash` is None until the one-time code has been replaced by a secret.

    `key_confirmed` says that a colleague has seen this person since then: the key in use is confirmed.
    """

    id: str
    login: str
    staff_number: str
    printed_name: str
    roles: frozenset[Role]
    unit: str
    secret_hash: str | None
    code_hash: str | None
    code_expires_at: datetime | None
    active: bool
    key_confirmed: bool = False
