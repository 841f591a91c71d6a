"""Accounts as the administrator sees them: who, what they may do, and how they stand; nothing clinical."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.people import Person
from app.words.screens import ROLES


@dataclass(frozen=True, kw_only=True)
class Account:
    """One account; `stands` says in words whether its person can sign in."""

    id: str
    printed_name: str
    login: str
    staff_number: str
    unit: str
    roles: tuple[str, ...]
    active: bool
    stands: str


def account(person: Person, units: Mapping[str, str], now: datetime) -> Account:
    """One account; `units` names each unit."""
    return Account(
        id=person.id,
        printed_name=person.printed_name,
        login=person.login,
        staff_number=person.staff_number,
        unit=units.get(person.unit, person.unit),
        roles=tuple(words for key, words in ROLES.items() if key in person.roles),
        active=person.active,
        stands=_stands(person, now),
    )


def accounts(people: Iterable[Person], units: Mapping[str, str], now: datetime) -> tuple[Account, ...]:
    """Every account."""
    return tuple(account(each, units, now) for each in people)


def _stands(person: Person, now: datetime) -> str:
    if not person.active:
        return "deactivated"
    if person.secret_hash is not None:
        return "in use"
    live = person.code_expires_at is not None and now <= person.code_expires_at
    return "one-time code not yet replaced" if live else "one-time code too old"
