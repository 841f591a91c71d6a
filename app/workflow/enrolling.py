"""People with known secrets and confirmed keys: for a demonstration and for tests, never for a real site.

What is stored is what the real way stores: each makes a key with a secret, the first two found, and confirm
all others.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from app.keys import PersonalKey, WrongSecret, hash_secret, make_personal_key, sign_confirmation
from app.people import Person
from app.records import events
from app.records.kept_keys import KeptKey, KeyConfirmation
from app.records.key_statements import confirmation_statement
from app.site.installation import Site
from app.storage import Transaction
from app.workflow.founding import keep_founding
from app.workflow.key_ceremony import holder_of, keep_confirmation, register_key

ISSUER = "demonstration"


@dataclass(frozen=True, kw_only=True)
class Newcomer:
    """An account without a secret, and the secret that its person will have."""

    person: Person
    secret: str


@dataclass(frozen=True, kw_only=True)
class Tools:
    """What is slow on purpose; tests do each once for all their sites."""

    hash_secret: Callable[[str], str] = hash_secret
    make_key: Callable[[str], PersonalKey] = make_personal_key
    sign: Callable[[PersonalKey, str, bytes], str | WrongSecret] = lambda key, secret, statement: (
        sign_confirmation(key.sealed, secret, statement, kid=key.kid)
    )


def enrol(site: Site, now: datetime, newcomers: Sequence[Newcomer], *, tools: Tools | None = None) -> None:
    """Make the accounts and their keys, and let them confirm each other; there must be two or more."""
    if len(newcomers) < 2:  # noqa: PLR2004  # nobody confirms their own key
        raise ValueError("one person alone cannot be confirmed")
    using = tools or Tools()
    pairs = [(each, using.make_key(each.secret)) for each in newcomers]
    with site.store.write() as tx:
        kept = [_join(tx, site, now, each=each, made=made, using=using) for each, made in pairs]
        # The first two begin, and confirm everybody else by turns.
        given = [
            _confirmed(key, newcomers[number].person, now, by=pairs[1 - number % 2], using=using)
            for number, key in enumerate(kept)
        ]
        keep_founding(tx, site, now, (given[0], given[1]))
        for each in given[2:]:
            keep_confirmation(tx, site, each)


def _confirmed(
    key: KeptKey, person: Person, now: datetime, *, by: tuple[Newcomer, PersonalKey], using: Tools
) -> KeyConfirmation:
    confirmer, own = by
    statement = confirmation_statement(key, holder_of(person), by=confirmer.person.id, at=now)
    jws = using.sign(own, confirmer.secret, statement)
    assert isinstance(jws, str)  # noqa: S101  # the secret is the one it was made with
    return KeyConfirmation(
        kid=key.kid,
        confirmed_by=confirmer.person.id,
        confirmed_at=now,
        confirmer_kid=own.kid,
        statement=statement,
        jws=jws,
        attestation="",
    )


def _join(
    tx: Transaction, site: Site, now: datetime, *, each: Newcomer, made: PersonalKey, using: Tools
) -> KeptKey:
    tx.add_person(each.person)
    tx.set_secret(each.person.id, using.hash_secret(each.secret))
    tx.append(events.AccountChanged(person=each.person.id, what="made for a demonstration"), at=now)
    named = {name: getattr(each.person, name) for name in ("printed_name", "staff_number")}
    tx.append(events.PersonNamed(person=each.person.id, **named), at=now)
    return register_key(tx, site, now, person=each.person.id, issuer=ISSUER, made=made, device="")
