"""How the keys of a site begin: two people confirm each other at the host's command line, in one act.

It is open while no confirmed key is in use: to the first two of a site, and to two who begin anew after every
confirmed key was lost. Each time stands in the log, and in every record that rests on it.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.keys import WrongSecret
from app.people import Person
from app.records import events
from app.records.kept_keys import KeptKey, KeyConfirmation
from app.records.key_chain import history_of
from app.site.installation import Site
from app.storage import ConstraintBroken, Reader, Transaction
from app.workflow.credentials import AT_THE_HOST, Known, verify_credential
from app.workflow.key_ceremony import is_own_key, keep_confirmation, note_closed_key, sign_for, why_not_by
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import WrongCredential


@dataclass(frozen=True, kw_only=True)
class Founder:
    """Who founds, with the secret that this person typed."""

    login: str
    secret: str


@dataclass(frozen=True, kw_only=True)
class Founded:
    """Both keys are confirmed; `number` is 1 for the first two of a site."""

    number: int


class Unfounded(StrEnum):
    """Why two people did not found; the words are for whoever is at the host."""

    CLOSED = "a confirmed key is in use: its person, and everybody confirmed since, confirms on the pages"
    WRONG = "id and secret do not belong together"
    TOO_MANY = "too many tries; wait and try again"
    NO_KEY = "there is no signing key that this installation saw being made: set a secret first"
    DOES_NOT_OPEN = "the signing key does not open: something stored was changed"
    ONE_PERSON = (
        "two people are needed, of different names and staff numbers, neither of whom gave the other's code"
    )


@dataclass(frozen=True, kw_only=True)
class NotFounded:
    """Nothing was confirmed; `login` is whom it is about, blank for both."""

    why: Unfounded
    login: str = ""


@dataclass(frozen=True, kw_only=True)
class _Half:
    """One of the two, and the key to be confirmed."""

    person: Person
    secret: str
    key: KeptKey
    sealed: bytes


def found_keys(site: Site, now: datetime, first: Founder, second: Founder) -> Founded | NotFounded:
    """Confirm the keys of both, each with the other's."""
    one = _half(site, now, first)
    if isinstance(one, NotFounded):
        return one
    other = _half(site, now, second)
    if isinstance(other, NotFounded):
        return other
    with site.store.read() as reader:
        if not _is_open(reader):
            return NotFounded(why=Unfounded.CLOSED)
    given = []
    for half, by in ((one, other), (other, one)):
        signed = _signed(site, now, half, by)
        if isinstance(signed, NotFounded):
            return signed
        given.append(signed)
    with site.store.write() as tx:
        one_at_a_time(tx, "founding", now)
        try:
            return Founded(number=keep_founding(tx, site, now, (given[0], given[1])))
        except ConstraintBroken:
            # Meanwhile others founded, or one of the two keys was confirmed or retired.
            return tx.refuse(NotFounded(why=Unfounded.CLOSED))


def _signed(site: Site, now: datetime, half: _Half, by: _Half) -> KeyConfirmation | NotFounded:
    if why_not_by(by.person, half.key, half.person) is not None:
        return NotFounded(why=Unfounded.ONE_PERSON)
    signed = sign_for(
        half.key, half.person, by=by.person, own=by.key.kid, sealed=by.sealed, secret=by.secret, at=now
    )
    if isinstance(signed, WrongSecret):
        note_closed_key(site, now, by.person)
        return NotFounded(why=Unfounded.DOES_NOT_OPEN, login=by.person.login)
    return signed


def keep_founding(
    tx: Transaction, site: Site, now: datetime, given: tuple[KeyConfirmation, KeyConfirmation]
) -> int:
    """Write down that two founded, and how they confirmed each other; which founding of the site it is."""
    first, second = given
    number = len(history_of(tx.key_entries()).foundings) + 1
    founded = events.KeysFounded(number=number, first_kid=first.kid, second_kid=second.kid)
    tx.append(founded, at=now)
    for each in given:
        keep_confirmation(tx, site, each)
    return number


def _is_open(reader: Reader) -> bool:
    return history_of(reader.key_entries()).is_open_to_founding


def _half(site: Site, now: datetime, founder: Founder) -> _Half | NotFounded:
    known = verify_credential(
        site,
        now,
        login=founder.login,
        secret=founder.secret,
        what="founding the site's keys",
        where=AT_THE_HOST,
    )
    if not isinstance(known, Known):
        why = Unfounded.WRONG if isinstance(known, WrongCredential) else Unfounded.TOO_MANY
        return NotFounded(why=why, login=founder.login)
    with site.store.read() as reader:
        key = reader.live_key(known.person.id)
        sealed = reader.find_sealed(key.kid) if key else None
    if key is None or sealed is None or not is_own_key(site, key):
        return NotFounded(why=Unfounded.NO_KEY, login=founder.login)
    return _Half(person=known.person, secret=founder.secret, key=key, sealed=sealed)
