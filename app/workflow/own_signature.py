"""A signature with somebody's own key, over bytes that a page showed.

It is made before it is known whether it may be stored: opening a key is slow on purpose, and nobody else
should wait for it. Whether what was signed still stands is asked in the transaction that stores it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar
from zoneinfo import ZoneInfo

from app.base import Act
from app.keys import RecordHeader, WrongSecret, sign_detached
from app.people import Person
from app.site.installation import Site
from app.storage import Reader
from app.workflow.asked_first import unready_here
from app.workflow.authenticators import Given, KnownBeside, NoneEnrolled, WrongFactor, try_both
from app.workflow.credentials import Where
from app.workflow.key_ceremony import note_closed_key, usable_key
from app.workflow.refusals import (
    KeyDoesNotOpen,
    KeyNotConfirmed,
    NotYours,
    TooManyTries,
    WrongCredential,
)


@dataclass(frozen=True)
class NotReady:
    """The site asks something of this person first: training, or to accept its statement."""


@dataclass(frozen=True)
class OtherRecord:
    """What the page showed is not what stands: it is read again before signing."""


NotMade = NotReady | KeyNotConfirmed | KeyDoesNotOpen
NotTheSigner = NotMade | NotYours | NoneEnrolled | WrongFactor | WrongCredential | TooManyTries
"""Why this person, by what was given, signs nothing."""


@dataclass(frozen=True, kw_only=True)
class ToSign:
    """The bytes of an edition of a record, what signing them means, and in whose time zone it is said."""

    record: str
    edition: int
    content: bytes
    meaning: str
    zone: str


@dataclass(frozen=True, kw_only=True)
class Made:
    """A signature that has been made and may now be stored."""

    kid: str
    jws: str


_Stale = TypeVar("_Stale")


def known_signer(
    site: Site, act: Act, *, login: str, secret: str, given: Given
) -> KnownBeside | NoneEnrolled | WrongFactor | WrongCredential | TooManyTries:
    """Whoever gives id and secret, every time, with what is asked beside them."""
    where = Where(signed_in=act.by.person)
    found = try_both(site, act.now, login=login, secret=secret, given=given, what="signing", where=where)
    if isinstance(found, KnownBeside) and isinstance(found.beside, NoneEnrolled):
        return found.beside
    return found


def make_signature(
    site: Site, act: Act, person: Person, find: Callable[[Reader], ToSign | _Stale], *, secret: str
) -> Made | _Stale | NotMade:
    """Sign what `find` finds, outside of any transaction; what else it says is passed on."""
    with site.store.read() as reader:
        key = usable_key(reader, site, person)
        if isinstance(key, KeyNotConfirmed):
            return key
        if unready_here(reader, act.now, person.id) is not None:
            return NotReady()
        what = find(reader)
        sealed = reader.find_sealed(key.kid) or b""
    if not isinstance(what, ToSign):
        return what
    header = RecordHeader(
        kid=key.kid,
        user_id=person.id,
        printed_name=person.printed_name,
        signed_at=act.now.astimezone(ZoneInfo(what.zone)),
        meaning=what.meaning,
        record_id=what.record,
        edition=what.edition,
    )
    jws = sign_detached(sealed, secret, what.content, header)
    if isinstance(jws, WrongSecret):
        return note_closed_key(site, act.now, person)
    return Made(kid=key.kid, jws=jws)
