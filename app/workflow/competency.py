"""The record of somebody's checks on training cards: signed by the person, then by a trainer.

What both sign are the same bytes, each with a key of their own; they stand in the log, as do the signatures.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeVar
from zoneinfo import ZoneInfo

from app.base import Act
from app.keys import RecordHeader, WrongSecret, sign_detached
from app.people import Permission, Person, Role, is_same_name, may
from app.records.canonical import digest as digest_of
from app.records.training_events import CompetencyReviewed, CompetencySigned
from app.review.competency import record_of
from app.site.installation import Site, is_for_training
from app.storage import Reader
from app.words.training import OWN_MEANING, TRAINER_MEANING
from app.workflow.asked_first import unready_here
from app.workflow.authenticators import (
    NOTHING,
    USED,
    Given,
    KnownBeside,
    NoneEnrolled,
    WrongFactor,
    try_both,
    use_up,
)
from app.workflow.credentials import Where, acting_as, forget_tries
from app.workflow.key_ceremony import note_closed_key, usable_key
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import (
    KeyDoesNotOpen,
    KeyNotConfirmed,
    NotFound,
    NotYours,
    TooManyTries,
    WrongCredential,
)
from app.workflow.signing import NotReady, OtherRecord
from app.workflow.training_record import OwnTraining, editions_of, own_in


@dataclass(frozen=True)
class RecordSigned:
    """The signature is on."""


@dataclass(frozen=True)
class OwnRecord:
    """A trainer signs for others: the own record is signed by another trainer."""


_Signed = TypeVar("_Signed", CompetencySigned, CompetencyReviewed)
_Stale = OtherRecord | OwnRecord | NotFound
NotSigned = (
    _Stale
    | NotYours
    | NotReady
    | KeyNotConfirmed
    | KeyDoesNotOpen
    | NoneEnrolled
    | WrongFactor
    | WrongCredential
    | TooManyTries
)


@dataclass(frozen=True, kw_only=True)
class Signing:
    """What somebody gives to sign with: id, secret, what is asked beside it; the digest is the page's."""

    login: str
    secret: str
    digest: str
    given: Given = NOTHING


@dataclass(frozen=True, kw_only=True)
class _Bytes:
    """What is signed, as what."""

    record: str
    edition: int
    content: bytes
    meaning: str


@dataclass(frozen=True, kw_only=True)
class _Made:
    """A signature that may now be stored."""

    kid: str
    jws: str


def sign_own_record(site: Site, act: Act, signing: Signing) -> RecordSigned | NotSigned:
    """Sign the record of one's own checks, as the page showed it."""
    return _sign(site, act, signing, partial(_own_bytes, site, act, signing.digest))


def sign_as_trainer(
    site: Site, act: Act, signing: Signing, *, roles: frozenset[Role], person: str
) -> RecordSigned | NotSigned:
    """Sign what somebody else signed of their checks."""
    if not may(roles, Permission.TRAIN):
        return NotFound()
    return _sign(site, act, signing, partial(_others_bytes, act, person, signing.digest))


def _sign(
    site: Site, act: Act, signing: Signing, find: Callable[[Reader], _Bytes | _Stale]
) -> RecordSigned | NotSigned:
    found = _known(site, act, signing)
    if not isinstance(found, KnownBeside):
        return found
    with site.store.read() as reader:
        what = find(reader)
    # Before the transaction: opening a key is slow on purpose, and nobody else should wait for it.
    person = found.known.person
    made = _signed(site, act, person, what, secret=signing.secret) if isinstance(what, _Bytes) else what
    with site.store.write() as tx:
        forget_tries(tx, found.known)
        if not isinstance(made, _Made):
            return made
        one_at_a_time(tx, "signing records of training", act.now)
        # A check may have ended, or the record been signed, since.
        still = find(tx)
        if not isinstance(still, _Bytes):
            return still
        key = usable_key(tx, site, person)
        if isinstance(key, KeyNotConfirmed) or key.kid != made.kid:
            return KeyNotConfirmed(kid=made.kid)
        if not use_up(tx, found.beside):
            return tx.refuse(USED)
        event = _event(still, made, person=person, beside=found.kind)
        tx.append(event, act=acting_as(act, person))
    return RecordSigned()


def _event(
    what: _Bytes, made: _Made, *, person: Person, beside: str
) -> CompetencySigned | CompetencyReviewed:
    def made_as(kind: type[_Signed], **its: str) -> _Signed:
        return kind(
            record=what.record,
            edition=what.edition,
            printed_name=person.printed_name,
            meaning=what.meaning,
            kid=made.kid,
            signature=made.jws,
            beside=beside,
            **its,
        )

    if what.meaning == OWN_MEANING:
        return made_as(CompetencySigned, document=what.content.decode())
    return made_as(CompetencyReviewed, digest=digest_of(what.content))


def _known(
    site: Site, act: Act, signing: Signing
) -> KnownBeside | NoneEnrolled | WrongFactor | WrongCredential | TooManyTries | NotYours:
    """Whoever signs is whoever is signed in: nobody's record is signed from another's page."""
    found = try_both(
        site,
        act.now,
        login=signing.login,
        secret=signing.secret,
        given=signing.given,
        what="signing",
        where=Where(signed_in=act.by.person),
    )
    if not isinstance(found, KnownBeside):
        return found
    if isinstance(found.beside, NoneEnrolled):
        return found.beside
    return found if found.known.person.id == act.by.person else NotYours()


def _own_bytes(site: Site, act: Act, digest: str, reader: Reader) -> _Bytes | NotFound | OtherRecord:
    own = own_in(site, reader, act)
    if not isinstance(own, OwnTraining):
        return own
    if own.to_sign is None or own.to_sign.digest != digest:
        return OtherRecord()
    edition = json.loads(own.to_sign.content)["edition"]
    record = record_of(act.by.person)
    return _Bytes(record=record, edition=edition, content=own.to_sign.content, meaning=OWN_MEANING)


def _others_bytes(
    act: Act, person: str, digest: str, reader: Reader
) -> _Bytes | NotFound | OtherRecord | OwnRecord:
    holder, trainer = reader.find_person(person), reader.find_person(act.by.person)
    last = next(iter(editions_of(reader, person)), None)
    if not is_for_training(reader) or holder is None or trainer is None or last is None:
        return NotFound()
    # As with the two of a check, one name for two logins is taken for one person.
    if person == act.by.person or is_same_name(holder.printed_name, trainer.printed_name):
        return OwnRecord()
    if last.reviewed is not None or digest_of(last.content) != digest:
        return OtherRecord()
    return _Bytes(record=last.record, edition=last.edition, content=last.content, meaning=TRAINER_MEANING)


def _signed(
    site: Site, act: Act, person: Person, what: _Bytes, *, secret: str
) -> _Made | NotReady | KeyNotConfirmed | KeyDoesNotOpen:
    """The signature, outside of any transaction: opening a key is slow on purpose."""
    with site.store.read() as reader:
        key = usable_key(reader, site, person)
        if isinstance(key, KeyNotConfirmed):
            return key
        if unready_here(reader, act.now, person.id) is not None:
            return NotReady()
        sealed = reader.find_sealed(key.kid) or b""
    header = RecordHeader(
        kid=key.kid,
        user_id=person.id,
        printed_name=person.printed_name,
        signed_at=act.now.astimezone(ZoneInfo(json.loads(what.content)["zone"])),
        meaning=what.meaning,
        record_id=what.record,
        edition=what.edition,
    )
    jws = sign_detached(sealed, secret, what.content, header)
    if isinstance(jws, WrongSecret):
        return note_closed_key(site, act.now, person)
    return _Made(kid=key.kid, jws=jws)
