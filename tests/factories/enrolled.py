"""Accounts with confirmed keys, each slow step done once a run: hashing and locking are slow on purpose."""

from collections.abc import Iterable
from functools import cache

from app.keys import PersonalKey, WrongSecret, hash_secret, make_personal_key, sign_confirmation
from app.people import Person, Role
from app.workflow.enrolling import Newcomer, Tools


@cache
def hash_of(secret: str) -> str:
    """The hash of a secret."""
    return hash_secret(secret)


@cache
def key_of(secret: str) -> PersonalKey:
    """The key that is made with a secret."""
    return make_personal_key(secret)


@cache
def confirmed_with(key: PersonalKey, secret: str, statement: bytes) -> str | WrongSecret:
    """The signature on a statement."""
    return sign_confirmation(key.sealed, secret, statement, kid=key.kid)


def newcomer(
    *,
    id: str,  # noqa: A002  # its name in an account
    login: str,
    staff_number: str,
    printed_name: str,
    roles: Iterable[str],
    unit: str,
    secret: str,
) -> Newcomer:
    """An account, whose person has a secret and will have a confirmed key."""
    person = Person(
        id=id,
        login=login,
        staff_number=staff_number,
        printed_name=printed_name,
        roles=frozenset(Role(role) for role in roles),
        unit=unit,
        secret_hash=None,
        code_hash=None,
        code_expires_at=None,
        active=True,
    )
    return Newcomer(person=person, secret=secret)


QUICK = Tools(hash_secret=hash_of, make_key=key_of, sign=confirmed_with)
