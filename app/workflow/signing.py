"""Sign the frozen record with one's own key; what both signatures mean is decided where they are stored."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from app.base import Act
from app.keys import RecordHeader, WrongSecret, sign_detached
from app.people import Person
from app.records import events
from app.records.canonical import digest as digest_of
from app.records.ending_events import InfusionEnded
from app.records.kept import OTHER, KeptSignature
from app.records.kinds import End, kind_named
from app.records.life import Action, may_be_done
from app.records.restarting import HeldBack
from app.records.ward_events import StartRefused
from app.site.flat_rows import keep_end
from app.site.installation import Site
from app.site.loading import Loaded, lock_and_load, rules_in_force
from app.storage import Transaction
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
from app.workflow.elsewhere import RunsElsewhere, refuse_start
from app.workflow.key_ceremony import note_closed_key, usable_key
from app.workflow.put_on import note_put_on
from app.workflow.refusals import (
    KeyDoesNotOpen,
    KeyNotConfirmed,
    NotFound,
    NotNow,
    NotYours,
    TooManyTries,
    WrongCredential,
)


@dataclass(frozen=True, kw_only=True)
class Signed:
    """The clinician's signature is on; `end` is what it came to, once the other's is on too."""

    end: End | None = None


@dataclass(frozen=True)
class AlreadySigned:
    """The clinician has signed this record."""


@dataclass(frozen=True)
class OtherRecord:
    """The record shown on the page is not the one that stands: it is read again before signing."""


@dataclass(frozen=True)
class NotReady:
    """The site asks something of this nurse first: training, or to accept its statement."""


@dataclass(frozen=True)
class StillOpen:
    """A stop, an unacknowledged caution, an unconfirmed step or a request for help is open."""


@dataclass(frozen=True, kw_only=True)
class _Made:
    """A signature that has been made and may now be stored."""

    kid: str
    jws: str


_Signing = (
    Signed
    | AlreadySigned
    | OtherRecord
    | StillOpen
    | RunsElsewhere
    | HeldBack
    | NotFound
    | NotYours
    | NotNow
    | NotReady
    | KeyNotConfirmed
    | KeyDoesNotOpen
    | WrongFactor
)
"""What came of it, once id and secret belong together."""


def sign_record(
    site: Site, act: Act, check_id: str, *, login: str, secret: str, digest: str, given: Given = NOTHING
) -> _Signing | WrongCredential | TooManyTries | NoneEnrolled:
    """Sign with id and secret, every time; the digest is the one that the page showed."""
    where = Where(signed_in=act.by.person)
    found = try_both(site, act.now, login=login, secret=secret, given=given, what="signing", where=where)
    if not isinstance(found, KnownBeside):
        return found
    if isinstance(found.beside, NoneEnrolled):
        return found.beside
    # Before the transaction: opening a key is slow on purpose, and nobody else should wait for it.
    made = _make_signature(site, act, check_id, found.known.person, secret=secret, digest=digest)
    signer = acting_as(act, found.known.person)
    with site.store.write() as tx:
        forget_tries(tx, found.known)
        return _sign(tx, site, signer, check_id, found=found, made=made, digest=digest)


def _sign(  # in which check, by whom, with what
    tx: Transaction,
    site: Site,
    signer: Act,
    check_id: str,
    *,
    found: KnownBeside,
    made: _Made | OtherRecord | NotReady | KeyNotConfirmed | KeyDoesNotOpen,
    digest: str,
) -> _Signing:
    loaded = lock_and_load(tx, check_id, signer.now)
    if loaded is None:
        return NotFound()
    state = loaded.state
    slot = state.slot_of(found.known.person.id)
    if slot is None:
        return NotYours()
    refusal = _refusal(loaded, slot, digest)
    if refusal is not None:
        return refusal
    if not isinstance(made, _Made):
        return made
    key = usable_key(tx, site, found.known.person)
    if isinstance(key, KeyNotConfirmed) or key.kid != made.kid:
        return KeyNotConfirmed(kid=made.kid)
    is_second = OTHER[slot] in state.signatures
    what = StartRefused.SIGNATURE
    refused = refuse_start(tx, signer, loaded, slot=slot, what=what) if is_second else None
    if refused is not None:
        return refused
    if not use_up(tx, found.beside):
        return tx.refuse(USED)
    tx.add_signature(
        KeptSignature(
            check=check_id,
            edition=state.edition,
            slot=slot,
            person=found.known.person.id,
            printed_name=found.known.person.printed_name,
            digest=state.frozen_digest,
            meaning=state.kind.meaning,
            signed_at=signer.now,
            session=signer.by.session,
            device=signer.by.device,
            signed_in_at=signer.by.signed_in_at,
            kid=made.kid,
            jws=made.jws,
        )
    )
    tx.append(
        events.Signed(
            edition=state.edition,
            slot=slot,
            digest=state.frozen_digest,
            meaning=state.kind.meaning,
            kid=made.kid,
            signature=digest_of(made.jws.encode()),
            beside=found.kind,
        ),
        act=signer,
        check=check_id,
        infusion=state.check.infusion,
    )
    return Signed(end=_come_to_its_end(site, tx, signer, loaded) if is_second else None)


def _come_to_its_end(site: Site, tx: Transaction, signer: Act, loaded: Loaded) -> End:
    """What the second signature brings about."""
    check, kind = loaded.state.check, loaded.state.kind
    if kind.end is End.DONE:
        note_put_on(tx, signer, loaded)
        done = InfusionEnded if kind.ends else events.CheckDone
        tx.append(done(check_kind=kind.name), act=signer, check=check.id, infusion=check.infusion)
        keep_end(site, tx, loaded)
    return kind.end


def _make_signature(  # all but who, when and where by name
    site: Site, act: Act, check_id: str, person: Person, *, secret: str, digest: str
) -> _Made | OtherRecord | NotReady | KeyNotConfirmed | KeyDoesNotOpen:
    """Sign the record that the page showed; whether it may be signed is decided where it is stored."""
    with site.store.read() as reader:
        key = usable_key(reader, site, person)
        if isinstance(key, KeyNotConfirmed):
            return key
        if unready_here(reader, act.now, person.id) is not None:
            return NotReady()
        check = reader.find_check(check_id)
        if check is None:
            return OtherRecord()
        zone = rules_in_force(reader, check.opened_at).policy.zone
        shown = [each for each in reader.frozen_records(check_id) if each.digest == digest]
        sealed = reader.find_sealed(key.kid) or b""
    if not shown:
        return OtherRecord()
    header = RecordHeader(
        kid=key.kid,
        user_id=person.id,
        printed_name=person.printed_name,
        signed_at=act.now.astimezone(ZoneInfo(zone)),
        meaning=kind_named(check.kind).meaning,
        record_id=check_id,
        edition=shown[-1].edition,
    )
    jws = sign_detached(sealed, secret, shown[-1].document, header)
    if isinstance(jws, WrongSecret):
        return note_closed_key(site, act.now, person)
    return _Made(kid=key.kid, jws=jws)


def _refusal(
    loaded: Loaded, slot: int, digest: str
) -> AlreadySigned | OtherRecord | StillOpen | NotNow | None:
    state = loaded.state
    if slot in state.signatures:
        return AlreadySigned()
    if not may_be_done(Action.SIGN, state):
        return NotNow(phase=state.phase)
    # Nobody signs of a device that was stopped meanwhile that it runs as ordered.
    was_stopped = state.kind.is_running and not loaded.infusion.is_running
    if state.open_help is not None or not state.steps_complete or was_stopped:
        return StillOpen()
    return OtherRecord() if digest != state.frozen_digest else None
