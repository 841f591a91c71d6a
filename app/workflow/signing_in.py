"""Sign in, stay signed in, sign out, and replace a one-time code by a secret of one's own."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.base import Actor, Method
from app.keys import (
    SecretFault,
    code_digest,
    hash_secret,
    make_personal_key,
    new_token,
    secret_fault,
    token_digest,
    verify_secret,
)
from app.people import Permission, Person, may
from app.records import events
from app.records.kept import Session
from app.records.policy import SitePolicy
from app.records.rules import policy_of
from app.site.installation import Site
from app.site.loading import load_infusion
from app.storage import OfInfusions, Reader, Transaction
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
from app.workflow.credentials import Where, forget_tries
from app.workflow.key_ceremony import find_issuer, register_key, retire_key_of
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.sessions import ABSOLUTE_LIFE, SHOWN, SignedIn, actor_of
from app.workflow.shift_sessions import begin_shift_session, is_alive, prepare_pin

# Looking for a session on every request would otherwise write on every request.
SEEN_EVERY = timedelta(seconds=15)


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A live session: the actor, the account behind it, what there is to be told, and the policy in force.

    `to_be_told` is of resets, `refused_told` of signings that were refused again and again, `key_told` of a
    key or a code that is not found, `seal_told` of evidence on whose seal another number was read.
    """

    actor: Actor
    person: Person
    to_be_told: bool = False
    refused_told: bool = False
    key_told: bool = False
    seal_told: bool = False
    policy: SitePolicy | None = None


@dataclass(frozen=True)
class SecretSet:
    """The new secret is the one that counts from now on."""


@dataclass(frozen=True)
class CodeWrong:
    """The one-time code is wrong, used or too old."""


@dataclass(frozen=True)
class NoSuchUnit:
    """The unit is not one of the site's."""


def sign_in(  # noqa: PLR0913  # who, with what, where
    site: Site,
    now: datetime,
    *,
    login: str,
    secret: str,
    device: str,
    unit: str,
    pin: str = "",
    before: Actor | None = None,
    given: Given = NOTHING,
) -> SignedIn | WrongCredential | TooManyTries | NoSuchUnit | SecretFault | WrongFactor:
    """Begin a session at this device; the session `before` it here, and any other of this person, ends.

    With six digits a shift session begins with it, which they open again here. Whoever is asked for more than
    the secret and has enrolled nothing gets in to do so, and for nothing else.
    """
    found = try_both(
        site,
        now,
        login=login,
        secret=secret,
        given=given,
        what="sign-in",
        where=Where(device=device),
    )
    if not isinstance(found, KnownBeside):
        return found
    known, beside = found.known, found.beside
    token, person = new_token(), known.person
    is_enrolled = not isinstance(beside, NoneEnrolled)
    prepared = prepare_pin(site, person, pin) if pin and is_enrolled else None
    if isinstance(prepared, SecretFault):
        with site.store.write() as tx:
            forget_tries(tx, known)
        return prepared
    session = Session(
        digest=token_digest(token),
        person=person.id,
        device=device,
        unit=unit,
        signed_in_at=now,
        last_seen_at=now,
        ended_at=None,
        method=Method.SECRET if is_enrolled else Method.UNENROLLED,
        shift_session=prepared.shift_session if prepared else "",
    )
    with site.store.write() as tx:
        forget_tries(tx, known)
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        if not use_up(tx, beside):
            return tx.refuse(USED)
        if before is not None:
            end_session(tx, now, before, what="gave the screen to somebody else")
        tx.end_sessions_of(person.id, now)
        tx.add_session(session)
        what = "signed in" if unit == person.unit else f"signed in, shift taken on {unit}"
        what += f", with a {found.kind}" if found.kind else ""
        tx.append(events.SecurityNoted(person=person.id, what=what), at=now, by=person.id)
        if prepared is not None:
            begin_shift_session(tx, session, prepared)
    return SignedIn(token=token, person=person, actor=actor_of(session))


def find_seen(
    site: Site, now: datetime, *, token: str, idle: timedelta, is_there: bool = True
) -> Seen | None:
    """The live session of a token, or None: ended, idle too long, too old, or its person no longer active.

    `is_there`: somebody asked, and not a page by itself.
    """
    with site.store.read() as reader:
        session = live_session(reader, now, token=token, idle=idle)
        found = (
            reader.find_signed_in(session.person, unit=session.unit, since=now - SHOWN, at=now)
            if session
            else None
        )
        told = _told_at_once(reader, found.person, session) if found and session else _Told()
    if session is None or found is None or not found.person.active:
        return None
    if is_there and now - session.last_seen_at >= SEEN_EVERY:
        with site.store.write() as tx:
            tx.touch_session(session.digest, now)
    return Seen(
        actor=actor_of(session),
        person=found.person,
        to_be_told=found.resets,
        refused_told=found.refused,
        key_told=told.key,
        seal_told=told.seal,
        policy=policy_of(found.policy) if found.policy is not None else None,
    )


@dataclass(frozen=True, kw_only=True)
class _Told:
    key: bool = False
    seal: bool = False


def _told_at_once(reader: Reader, person: Person, session: Session) -> _Told:
    """Whether a key or code is not found, or the seal of what is kept is another than was written.

    For who sees to it: on the unit, or on each for whoever reads its records.
    """
    keys = may(person.roles, Permission.CHANGE_LOCK)
    if not (keys or may(person.roles, Permission.RELEASE_EVIDENCE)):
        return _Told()
    everywhere = may(person.roles, Permission.READ_RECORDS)
    stand = [
        load_infusion(reader, each.id).emergencies
        for each in reader.all_infusions_that(OfInfusions.TOLD)
        if everywhere or each.unit == session.unit
    ]
    return _Told(
        key=keys and any(each.key is not None for each in stand),
        seal=any(each.custody.differs for each in stand),
    )


def _goes_on(reader: Reader, now: datetime, session: Session) -> bool:
    """Whether what six digits opened still lives; a session of id and secret stands for itself."""
    if session.method != Method.PIN:
        return True
    return is_alive(reader.find_shift_session(session.shift_session), now)


def live_session(reader: Reader, now: datetime, *, token: str, idle: timedelta) -> Session | None:
    """The session of a token, unless it was ended, or was idle too long, or is too old."""
    session = reader.find_session(token_digest(token))
    if session is None or session.ended_at is not None:
        return None
    if now - session.last_seen_at > idle or now - session.signed_in_at > ABSOLUTE_LIFE:
        return None
    return session if _goes_on(reader, now, session) else None


def find_live_person(site: Site, now: datetime, *, token: str, device: str, idle: timedelta) -> str | None:
    """Whose session it is, for a page that waits; asking does not say that anybody is there."""
    with site.store.read() as reader:
        session = live_session(reader, now, token=token, idle=idle)
    return session.person if session is not None and session.device == device else None


def find_lapsed(site: Site, *, token: str) -> Seen | None:
    """Whose session it was that ran out of time, or ended because its person signed in elsewhere.

    It lets nobody in, and one that somebody ended is dead.
    """
    with site.store.read() as reader:
        session = reader.find_session(token_digest(token))
        person = reader.find_person(session.person) if session else None
        if session is None or person is None or not person.active or not _is_lapsed(reader, session):
            return None
    return Seen(actor=actor_of(session), person=person)


def _is_lapsed(reader: Reader, session: Session) -> bool:
    """Whether nobody ended it; a sign-in ends the person's other sessions in the moment of its beginning."""
    if session.ended_at is None:
        return True
    begun = reader.sessions_begun(session.person, session.ended_at)
    return any(each.digest != session.digest for each in begun)


def sign_out(site: Site, now: datetime, actor: Actor) -> None:
    """End the session at the server, and the shift session there: a cookie replayed afterwards is dead."""
    with site.store.write() as tx:
        tx.end_shift_sessions_of(actor.person, now, device=actor.device)
        end_session(tx, now, actor)


def end_session(tx: Transaction, now: datetime, actor: Actor, *, what: str = "signed out") -> None:
    """The session alone, with the act that it follows from."""
    tx.end_session(actor.session, now)
    tx.append(events.SecurityNoted(person=actor.person, what=what), at=now, by=actor.person)


def replace_code(
    site: Site, now: datetime, *, login: str, code: str, secret: str, device: str = ""
) -> SecretSet | CodeWrong | SecretFault:
    """Replace the one-time code of a new or reset account by a secret that only its owner knows.

    With it a signing key is made; it signs nothing until a second person has confirmed it.
    """
    with site.store.read() as reader:
        person = reader.find_person_by_login(login)
        # A code that this installation did not give makes no key: nobody would know who gave it.
        issuer = find_issuer(reader, site, person) if person else None
    live = (
        person is not None
        and person.active
        and issuer is not None
        and person.code_expires_at is not None
        and now <= person.code_expires_at
    )
    # However it was typed: the digest leaves out spaces, hyphens and case.
    typed = code_digest(code)
    right = verify_secret(person.code_hash if person and live else None, typed)
    if not right or person is None or issuer is None:
        return CodeWrong()
    fault = secret_fault(secret, login=person.login, printed_name=person.printed_name)
    if fault is not None:
        return fault
    secret_hash, made = hash_secret(secret), make_personal_key(secret)
    with site.store.write() as tx:
        one_at_a_time(tx, f"account {person.id}", now)
        again = tx.find_person(person.id)
        if again is None or again.code_hash != person.code_hash:
            # Used in the meantime: a code works once.
            return CodeWrong()
        tx.set_secret(person.id, secret_hash)
        tx.end_sessions_of(person.id, now)
        tx.end_shift_sessions_of(person.id, now)
        tx.append(events.AccountChanged(person=person.id, what="secret set"), at=now, by=person.id)
        retire_key_of(tx, now, person=person.id, by=person.id, why="new secret")
        register_key(tx, site, now, person=person.id, issuer=issuer, made=made, device=device)
    return SecretSet()
