"""People's signing keys: made with a secret, confirmed face to face by a second person, retired by a reset.

Nobody can sign for another alone, not even who may write to the database: the private half opens only with
its person's secret; that a key belongs to a person, and who gave the code it was made with, is vouched for
by a key outside the database; and the confirmation is signed with the confirming colleague's own key.
"""

from dataclasses import dataclass, replace
from datetime import datetime

from app.base import Act, Method
from app.keys import (
    CONFIRMATION_TYPE,
    PersonalKey,
    Verified,
    WrongSecret,
    attest,
    is_attested,
    sign_confirmation,
    verify_detached,
)
from app.people import Person, folded, is_same_name
from app.records import events
from app.records.canonical import digest
from app.records.kept_keys import IssuedCode, KeptKey, KeyConfirmation, KeyRetirement
from app.records.key_statements import (
    Holder,
    code_facts,
    confirmation_facts,
    confirmation_statement,
    is_about,
    key_facts,
)
from app.site.codes import CODE, is_own_code
from app.site.installation import Site
from app.storage import ConstraintBroken, Reader, Transaction
from app.workflow.credentials import Known, Where, acting_as, verify_credential
from app.workflow.refusals import KeyDoesNotOpen, KeyNotConfirmed, NotFound, TooManyTries, WrongCredential

_KEY, _CONFIRMATION = "personal key", "key confirmation"


@dataclass(frozen=True, kw_only=True)
class KeyConfirmed:
    """The key is confirmed; its person can sign."""

    kid: str


@dataclass(frozen=True)
class AlreadyConfirmed:
    """A colleague has confirmed this key."""


@dataclass(frozen=True)
class NotASecondPerson:
    """Neither the key's own person nor who gave the code can confirm it."""


@dataclass(frozen=True)
class TooAlike:
    """Both have one printed name or one staff number: somebody else confirms, so that it is no one person."""


@dataclass(frozen=True)
class OneSignIn:
    """The colleague is not signed in here, or was before the key was made here: it could be one person."""


Unconfirmed = (
    AlreadyConfirmed
    | NotASecondPerson
    | TooAlike
    | OneSignIn
    | NotFound
    | KeyNotConfirmed
    | KeyDoesNotOpen
    | WrongCredential
    | TooManyTries
)


def holder_of(person: Person) -> Holder:
    """The person as confirmations name them."""
    return Holder(
        person=person.id,
        login=person.login,
        staff_number=person.staff_number,
        printed_name=person.printed_name,
    )


# Codes and keys: parts of the transactions that give a code, set a secret and reset an account.


def issue_code(  # to whom, by whom, with what
    tx: Transaction, site: Site, now: datetime, *, person: str, what: str, by: str, code_hash: str
) -> None:
    """Keep who gave this code: that person can later not confirm the key that is made with it."""
    given = IssuedCode(
        code=digest(code_hash.encode()),
        person=person,
        what=what,
        issuer=by,
        issued_at=now,
        attestation="",
    )
    tx.add_issued_code(_attested_code(site, given))


def find_issuer(reader: Reader, site: Site, person: Person) -> str | None:
    """Who gave the code that the account waits for; None for a code that this installation did not give."""
    if person.code_hash is None:
        return None
    given = reader.find_issued_code(digest(person.code_hash.encode()))
    if given is None or given.person != person.id:
        return None
    return given.issuer if is_own_code(site, given) else None


def register_key(  # whose key, with whose code, made where
    tx: Transaction, site: Site, now: datetime, *, person: str, issuer: str, made: PersonalKey, device: str
) -> KeptKey:
    """Put the public half of a person's new key into the log, and keep the locked private one."""
    key = KeptKey(
        kid=made.kid,
        person=person,
        algorithm=made.algorithm,
        public=made.public,
        made_at=now,
        issuer=issuer,
        made_on=device,
        attestation="",
    )
    key = _attested_key(site, key)
    tx.add_key(key, sealed=made.sealed)
    event = events.PersonalKeyMade(
        person=person,
        kid=key.kid,
        algorithm=key.algorithm,
        public=key.public,
        issuer=issuer,
        made_on=device,
        attestation=key.attestation,
    )
    tx.append(event, at=now, by=person)
    return key


def retire_key_of(tx: Transaction, now: datetime, *, person: str, by: str, why: str) -> None:
    """Take the person's key out of use, where there is one; what it signed stays signed."""
    key = tx.live_key(person)
    if key is None:
        return
    tx.retire_key(KeyRetirement(kid=key.kid, retired_at=now, why=why))
    tx.append(events.PersonalKeyRetired(kid=key.kid, why=why), at=now, by=by)


# Which key a person signs with.


def usable_key(reader: Reader, site: Site, person: Person) -> KeptKey | KeyNotConfirmed:
    """The person's key, if a second person confirmed it and nothing about it was changed since."""
    key = reader.live_key(person.id)
    if key is None or not is_own_key(site, key):
        return KeyNotConfirmed(kid="")
    confirmation = reader.find_confirmation(key.kid)
    if confirmation is None or not is_confirmed(
        reader, site, confirmation, key=key, holder=holder_of(person)
    ):
        return KeyNotConfirmed(kid=key.kid)
    return key


def is_own_key(site: Site, key: KeptKey) -> bool:
    """Whether this installation saw this key being made, by this person, with a code from this issuer."""
    return is_attested(site.key, _KEY, key_facts(key), key.attestation)


def is_confirmed(
    reader: Reader, site: Site, confirmation: KeyConfirmation, *, key: KeptKey, holder: Holder
) -> bool:
    """Whether a second person confirmed this key in the hands of this holder, with a key of their own."""
    confirmer = reader.find_key(confirmation.confirmer_kid)
    return (
        is_attested(site.key, _CONFIRMATION, confirmation_facts(confirmation), confirmation.attestation)
        and confirmation.kid == key.kid
        and key.person == holder.person
        and confirmation.confirmed_by not in {key.person, key.issuer}
        and is_about(confirmation, key, holder)
        and confirmer is not None
        and confirmer.person == confirmation.confirmed_by
        and is_own_key(site, confirmer)
        and is_signed_statement(confirmation, confirmer)
    )


def is_signed_statement(confirmation: KeyConfirmation, confirmer: KeptKey) -> bool:
    """Whether the statement carries the signature of the colleague's key."""
    verified = verify_detached(
        confirmation.jws, confirmation.statement, confirmer.public, typ=CONFIRMATION_TYPE
    )
    return isinstance(verified, Verified)


# Confirming face to face.


def confirm_key(site: Site, act: Act, *, kid: str, login: str, secret: str) -> KeyConfirmed | Unconfirmed:
    """Confirm a colleague's key with one's own id and secret, where one is signed in oneself."""
    where = Where(signed_in=act.by.person)
    known = verify_credential(site, act.now, login=login, secret=secret, what="confirming a key", where=where)
    if not isinstance(known, Known):
        return known
    colleague = known.person
    with site.store.read() as reader:
        key = reader.find_key(kid)
        person = reader.find_person(key.person) if key else None
        if key is None or person is None or reader.live_key(person.id) != key or not is_own_key(site, key):
            return NotFound()
        if (refusal := why_not_by(colleague, key, person)) is not None:
            return refusal
        if reader.find_confirmation(kid) is not None:
            return AlreadyConfirmed()
        if is_one_sign_in(act, key, colleague):
            return OneSignIn()
        own = usable_key(reader, site, colleague)
        if isinstance(own, KeyNotConfirmed):
            return own
        sealed = reader.find_sealed(own.kid) or b""
    given = sign_for(key, person, by=colleague, own=own.kid, sealed=sealed, secret=secret, at=act.now)
    if isinstance(given, WrongSecret):
        return note_closed_key(site, act.now, colleague)
    return _keep_confirmation(site, acting_as(act, colleague), given)


def why_not_by(colleague: Person, key: KeptKey, person: Person) -> NotASecondPerson | TooAlike | None:
    """Why this colleague cannot confirm the key of this person, whoever else can."""
    if colleague.id in {key.person, key.issuer}:
        return NotASecondPerson()
    alike = is_same_name(colleague.printed_name, person.printed_name) or (
        folded(colleague.staff_number) == folded(person.staff_number)
    )
    return TooAlike() if alike else None


def is_one_sign_in(act: Act, key: KeptKey, colleague: Person) -> bool:
    """Whether nobody can tell here that two people were there, and not one with two logins.

    Whoever confirms is signed in there. At the screen at which the key was made that is a sign-in with id
    and secret after it: before it, one person could have set the secret and gone on.
    """
    if act.by.person != colleague.id:
        return True
    began_after = act.by.method is Method.SECRET and act.by.signed_in_at > key.made_at
    return act.by.device == key.made_on and not began_after


def sign_for(  # whose key, by whom, with what
    key: KeptKey, person: Person, *, by: Person, own: str, sealed: bytes, secret: str, at: datetime
) -> KeyConfirmation | WrongSecret:
    """The colleague's signed statement, not vouched for yet."""
    statement = confirmation_statement(key, holder_of(person), by=by.id, at=at)
    jws = sign_confirmation(sealed, secret, statement, kid=own)
    if isinstance(jws, WrongSecret):
        return jws
    return KeyConfirmation(
        kid=key.kid,
        confirmed_by=by.id,
        confirmed_at=at,
        confirmer_kid=own,
        statement=statement,
        jws=jws,
        attestation="",
    )


def _keep_confirmation(
    site: Site, act: Act, given: KeyConfirmation
) -> KeyConfirmed | AlreadyConfirmed | NotFound:
    with site.store.write() as tx:
        try:
            keep_confirmation(tx, site, given, act=act)
        except ConstraintBroken as broken:
            # Meanwhile somebody else confirmed it, or one of the two keys was retired.
            tx.refuse()
            return AlreadyConfirmed() if broken.name == "one_confirmation_a_key" else NotFound()
    return KeyConfirmed(kid=given.kid)


def keep_confirmation(tx: Transaction, site: Site, given: KeyConfirmation, *, act: Act | None = None) -> None:
    """Vouch for a confirmation and keep it; raises ConstraintBroken where the database knows better."""
    kept = _attested_confirmation(site, given)
    tx.confirm_key(kept)
    event = events.PersonalKeyConfirmed(
        kid=kept.kid,
        confirmed_by=kept.confirmed_by,
        confirmer_kid=kept.confirmer_kid,
        statement=kept.statement.decode(),
        signature=kept.jws,
        attestation=kept.attestation,
    )
    if act is not None:
        tx.append(event, act=act)
    else:
        tx.append(event, at=kept.confirmed_at, by=kept.confirmed_by)


def note_closed_key(site: Site, now: datetime, person: Person) -> KeyDoesNotOpen:
    """The secret signs in but does not open the key: somebody changed what is stored, and it is noted."""
    with site.store.write() as tx:
        tx.append(events.SecurityNoted(person=person.id, what="signing key did not open"), at=now)
    return KeyDoesNotOpen()


def _attested_code(site: Site, code: IssuedCode) -> IssuedCode:
    return replace(code, attestation=attest(site.key, CODE, code_facts(code)))


def _attested_key(site: Site, key: KeptKey) -> KeptKey:
    return replace(key, attestation=attest(site.key, _KEY, key_facts(key)))


def _attested_confirmation(site: Site, given: KeyConfirmation) -> KeyConfirmation:
    return replace(given, attestation=attest(site.key, _CONFIRMATION, confirmation_facts(given)))
