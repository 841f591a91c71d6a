"""The record of somebody's checks on training cards: signed by the person, then by a trainer.

What both sign are the same bytes, each with a key of their own; they stand in the log, as do the signatures.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from app.base import Act
from app.people import Permission, Person, Role, is_same_name, may
from app.records.canonical import digest as digest_of
from app.records.training_events import CompetencyReviewed, CompetencySigned
from app.review.competency import record_of
from app.site.installation import Site, is_for_training
from app.storage import Reader
from app.words.training import OWN_MEANING, TRAINER_MEANING
from app.workflow.authenticators import (
    NOTHING,
    USED,
    Given,
    KnownBeside,
    use_up,
)
from app.workflow.credentials import acting_as, forget_tries
from app.workflow.key_ceremony import usable_key
from app.workflow.own_signature import (
    Made,
    NotMade,
    NotTheSigner,
    OtherRecord,
    ToSign,
    known_signer,
    make_signature,
)
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import (
    KeyNotConfirmed,
    NotFound,
    NotYours,
)
from app.workflow.training_record import OwnTraining, editions_of, own_in


@dataclass(frozen=True)
class RecordSigned:
    """The signature is on."""


@dataclass(frozen=True)
class OwnRecord:
    """A trainer signs for others: the own record is signed by another trainer."""


_Signed = TypeVar("_Signed", CompetencySigned, CompetencyReviewed)
_Stale = OtherRecord | OwnRecord | NotFound
NotSigned = _Stale | NotTheSigner


@dataclass(frozen=True, kw_only=True)
class Signing:
    """What somebody gives to sign with: id, secret, what is asked beside it; the digest is the page's."""

    login: str
    secret: str
    digest: str
    given: Given = NOTHING


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
    site: Site, act: Act, signing: Signing, find: Callable[[Reader], ToSign | _Stale]
) -> RecordSigned | NotSigned:
    found = _known(site, act, signing)
    if not isinstance(found, KnownBeside):
        return found
    person = found.known.person
    made: Made | _Stale | NotMade = make_signature(site, act, person, find, secret=signing.secret)
    with site.store.write() as tx:
        forget_tries(tx, found.known)
        if not isinstance(made, Made):
            return made
        one_at_a_time(tx, "signing records of training", act.now)
        # A check may have ended, or the record been signed, since.
        still = find(tx)
        if not isinstance(still, ToSign):
            return still
        key = usable_key(tx, site, person)
        if isinstance(key, KeyNotConfirmed) or key.kid != made.kid:
            return KeyNotConfirmed(kid=made.kid)
        if not use_up(tx, found.beside):
            return tx.refuse(USED)
        event = _event(still, made, person=person, beside=found.kind)
        tx.append(event, act=acting_as(act, person))
    return RecordSigned()


def _event(what: ToSign, made: Made, *, person: Person, beside: str) -> CompetencySigned | CompetencyReviewed:
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


def _known(site: Site, act: Act, signing: Signing) -> KnownBeside | NotTheSigner:
    """Whoever signs is whoever is signed in: nobody's record is signed from another's page."""
    found = known_signer(site, act, login=signing.login, secret=signing.secret, given=signing.given)
    is_another = isinstance(found, KnownBeside) and found.known.person.id != act.by.person
    return NotYours() if is_another else found


def _own_bytes(site: Site, act: Act, digest: str, reader: Reader) -> ToSign | NotFound | OtherRecord:
    own = own_in(site, reader, act)
    if not isinstance(own, OwnTraining):
        return own
    if own.to_sign is None or own.to_sign.digest != digest:
        return OtherRecord()
    return _to_sign(record_of(act.by.person), own.to_sign.content, OWN_MEANING)


def _others_bytes(
    act: Act, person: str, digest: str, reader: Reader
) -> ToSign | NotFound | OtherRecord | OwnRecord:
    holder, trainer = reader.find_person(person), reader.find_person(act.by.person)
    last = next(iter(editions_of(reader, person)), None)
    if not is_for_training(reader) or holder is None or trainer is None or last is None:
        return NotFound()
    # As with the two of a check, one name for two logins is taken for one person.
    if person == act.by.person or is_same_name(holder.printed_name, trainer.printed_name):
        return OwnRecord()
    if last.reviewed is not None or digest_of(last.content) != digest:
        return OtherRecord()
    return _to_sign(last.record, last.content, TRAINER_MEANING)


def _to_sign(record: str, content: bytes, meaning: str) -> ToSign:
    said = json.loads(content)
    return ToSign(record=record, edition=said["edition"], content=content, meaning=meaning, zone=said["zone"])
