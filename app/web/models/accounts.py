"""Accounts as the administrator sees them: who, what they may do, and how they stand; nothing clinical."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.people import Person, Role
from app.words.screens import ROLES
from app.workflow.logins import Logins


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


@dataclass(frozen=True, kw_only=True)
class RoleHeld:
    """A role, and by name whoever holds it and can sign in; `too_few` says what nobody could do."""

    role: str
    names: tuple[str, ...]
    too_few: str


def roles_held(people: Iterable[Account], *, training: bool) -> tuple[RoleHeld, ...]:
    """Who holds which role that there is here."""
    active = [each for each in people if each.active]
    return tuple(
        RoleHeld(role=role, names=names, too_few=_too_few(key, len(names)))
        for key, role in ROLES.items()
        if training or key != Role.TRAINER
        for names in [tuple(each.printed_name for each in active if role in each.roles)]
    )


def _too_few(role: str, count: int) -> str:
    if role == Role.PHARMACIST and count == 1:
        return "Only one pharmacist has a login: nobody could approve a change of the drug library."
    if role in _NEEDED and not count:
        return "Nobody holds it."
    return ""


# Without these something stands still: rules, requests for help, logins.
_NEEDED = {Role.PHARMACIST, Role.CHARGE_NURSE, Role.ADMINISTRATOR}


def _stands(person: Person, now: datetime) -> str:
    if not person.active:
        return "deactivated"
    if person.secret_hash is not None:
        return "in use"
    live = person.code_expires_at is not None and now <= person.code_expires_at
    return "one-time code not yet replaced" if live else "one-time code too old"


@dataclass(frozen=True, kw_only=True)
class UnusedLogin:
    """A login that nobody uses: whose, and since when; `used_at` is None where nobody ever signed in."""

    account: Account
    used_at: datetime | None
    made_at: datetime | None


def unused_logins(found: Logins, units: Mapping[str, str], now: datetime) -> tuple[UnusedLogin, ...]:
    """Those that nobody has used for the site's time, the longest unused first."""
    unused = sorted(
        found.unused, key=lambda each: (each.used_at is not None, each.used_at or each.made_at or now)
    )
    return tuple(
        UnusedLogin(account=account(each.person, units, now), used_at=each.used_at, made_at=each.made_at)
        for each in unused
    )
