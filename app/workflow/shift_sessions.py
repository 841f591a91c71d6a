"""A shift session: begun with id and secret at one screen, locked and opened there again by six digits.

It ends after a shift, by signing out, at the fifth wrong try, and with whatever ends the secret behind it.
"""

from dataclasses import dataclass
from datetime import datetime

from app.base import Actor, Method
from app.keys import SecretFault, hash_pin, new_id, new_token, pin_fault, token_digest, verify_pin
from app.people import Person
from app.records import events
from app.records.kept import Locked, Session, ShiftSession
from app.site.installation import Site
from app.storage import Reader, Transaction
from app.workflow.queueing import one_at_a_time
from app.workflow.sessions import ABSOLUTE_LIFE, SignedIn, act_of, actor_of

TRIES = 5


@dataclass(frozen=True, kw_only=True)
class WrongPin:
    """These are not the digits of this shift session, which lives for as many tries as are left."""

    left: int


@dataclass(frozen=True)
class ShiftOver:
    """There is no such shift session at this screen, or it has ended: id and secret are needed."""


@dataclass(frozen=True, kw_only=True)
class Pin:
    """Digits that may be kept, with what is kept of them."""

    shift_session: str
    pin_hash: str


@dataclass(frozen=True, kw_only=True)
class PinKnown:
    """The digits belong to this shift session; it is asked again where something follows from it."""

    shift_session: ShiftSession


def prepare_pin(site: Site, person: Person, pin: str) -> Pin | SecretFault:
    """Hash the digits, outside any transaction; or why this person may not choose them."""
    fault = pin_fault(pin, own=(person.login, person.staff_number))
    if fault is not None:
        return fault
    shift_session = new_id()
    return Pin(shift_session=shift_session, pin_hash=hash_pin(site.key, shift_session, pin))


def begin_shift_session(tx: Transaction, session: Session, pin: Pin) -> None:
    """From now on these digits open it at this device, and those of an earlier one do not."""
    now = session.signed_in_at
    tx.end_shift_sessions_of(session.person, now, device=session.device)
    tx.add_shift_session(
        ShiftSession(
            id=pin.shift_session,
            person=session.person,
            device=session.device,
            unit=session.unit,
            began_at=now,
            pin_hash=pin.pin_hash,
            tries=0,
            ended_at=None,
        )
    )
    what = "chose six digits for this shift at this screen"
    tx.append(events.SecurityNoted(person=session.person, what=what), act=act_of(session))


def locked_at(site: Site, now: datetime, device: str) -> tuple[Locked, ...]:
    """Whose shift session lives at this device, by name."""
    with site.store.read() as reader:
        return reader.locked_at(device, since=now - ABSOLUTE_LIFE)


def is_alive(shift_session: ShiftSession | None, now: datetime) -> bool:
    """Whether it has neither been ended nor lasted longer than a shift."""
    return (
        shift_session is not None
        and shift_session.ended_at is None
        and now - shift_session.began_at <= ABSOLUTE_LIFE
    )


def try_pin(
    site: Site, now: datetime, *, shift_session: str, device: str, pin: str
) -> PinKnown | WrongPin | ShiftOver:
    """Look at six digits; the try is counted before, and counts for this shift session alone."""
    with site.store.write() as tx:
        found = _find_here(tx, now, shift_session, device)
        if found is None:
            return ShiftOver()
        one_at_a_time(tx, f"shift session {found.id}", now)
        again = _find_here(tx, now, shift_session, device)
        if again is None:
            return ShiftOver()
        if again.tries >= TRIES:
            # Counted, and then the program was stopped before it could say so.
            tx.end_shift_sessions_of(again.person, now, device=device)
            return ShiftOver()
        tries = again.tries + 1
        tx.set_tries(again.id, tries)
    if verify_pin(site.key, again.id, pin, again.pin_hash):
        return PinKnown(shift_session=again)
    with site.store.write() as tx:
        what = "six digits were wrong"
        if tries >= TRIES:
            tx.end_shift_sessions_of(again.person, now, device=again.device)
            what = "six digits were wrong for the last time: shift session ended"
        tx.append(events.SecurityNoted(person=again.person, what=what), at=now)
    return ShiftOver() if tries >= TRIES else WrongPin(left=TRIES - tries)


def _find_here(reader: Reader, now: datetime, shift_session: str, device: str) -> ShiftSession | None:
    found = reader.find_shift_session(shift_session)
    return found if found is not None and found.device == device and is_alive(found, now) else None


def open_session(tx: Transaction, now: datetime, known: PinKnown, *, ended: bool = False) -> SignedIn | None:
    """A session of its own, unless the shift session has ended meanwhile; `ended`: for one act alone."""
    found = _find_here(tx, now, known.shift_session.id, known.shift_session.device)
    person = tx.find_person(found.person) if found else None
    if found is None or person is None or not person.active:
        return None
    tx.set_tries(found.id, 0)
    token = new_token()
    session = Session(
        digest=token_digest(token),
        person=person.id,
        device=found.device,
        unit=found.unit,
        signed_in_at=now,
        last_seen_at=now,
        ended_at=now if ended else None,
        method=Method.PIN,
        shift_session=found.id,
    )
    tx.add_session(session)
    tx.append(events.SecurityNoted(person=person.id, what="gave six digits"), act=act_of(session))
    return SignedIn(token=token, person=person, actor=actor_of(session))


def unlock(
    site: Site, now: datetime, *, shift_session: str, device: str, pin: str, before: Actor | None = None
) -> SignedIn | WrongPin | ShiftOver:
    """Open a session by six digits; the session `before` it here, and any other of this person, ends."""
    known = try_pin(site, now, shift_session=shift_session, device=device, pin=pin)
    if not isinstance(known, PinKnown):
        return known
    with site.store.write() as tx:
        if before is not None:
            _lock(tx, now, before)
        tx.end_sessions_of(known.shift_session.person, now)
        return open_session(tx, now, known) or tx.refuse(ShiftOver())


def lock(site: Site, now: datetime, actor: Actor) -> None:
    """End the session and leave the shift session: six digits go on from here."""
    with site.store.write() as tx:
        _lock(tx, now, actor)


def _lock(tx: Transaction, now: datetime, actor: Actor) -> None:
    tx.end_session(actor.session, now)
    tx.append(events.SecurityNoted(person=actor.person, what="locked"), at=now, by=actor.person)
