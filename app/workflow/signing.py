"""Sign the frozen record with one's own key; what both signatures mean is decided where they are stored."""

from dataclasses import dataclass
from functools import partial

from app.base import Act
from app.records import events
from app.records.account_entries import totals_read
from app.records.canonical import digest as digest_of
from app.records.ending_events import InfusionEnded
from app.records.kept import OTHER, B, KeptSignature
from app.records.kinds import End, kind_named
from app.records.life import Action, may_be_done
from app.records.restarting import HeldBack
from app.records.ward_events import StartRefused
from app.site.flat_rows import keep_end
from app.site.installation import Site
from app.site.loading import Loaded, lock_and_load, rules_in_force
from app.storage import Reader, Transaction
from app.workflow.authenticators import (
    NOTHING,
    USED,
    Given,
    KnownBeside,
    NoneEnrolled,
    WrongFactor,
    use_up,
)
from app.workflow.credentials import acting_as, forget_tries
from app.workflow.elsewhere import RunsElsewhere, refuse_start
from app.workflow.key_ceremony import usable_key
from app.workflow.own_signature import (
    Made,
    NotMade,
    OtherRecord,
    ToSign,
    known_signer,
    make_signature,
)
from app.workflow.put_on import note_put_on
from app.workflow.refusals import (
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
class StillOpen:
    """A stop, an unacknowledged caution, an unconfirmed step or a request for help is open."""


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
    | NotMade
    | WrongFactor
)
"""What came of it, once id and secret belong together."""


def sign_record(
    site: Site, act: Act, check_id: str, *, login: str, secret: str, digest: str, given: Given = NOTHING
) -> _Signing | WrongCredential | TooManyTries | NoneEnrolled:
    """Sign with id and secret, every time; the digest is the one that the page showed."""
    found = known_signer(site, act, login=login, secret=secret, given=given)
    if not isinstance(found, KnownBeside):
        return found
    shown = partial(_shown, check_id=check_id, digest=digest)
    made = make_signature(site, act, found.known.person, shown, secret=secret)
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
    made: Made | OtherRecord | NotMade,
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
    if not isinstance(made, Made):
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
        event = done(check_kind=kind.name, counted=_is_counted(loaded))
        tx.append(event, act=signer, check=check.id, infusion=check.infusion)
        keep_end(site, tx, loaded)
    return kind.end


def _is_counted(loaded: Loaded) -> bool:
    """Whether the second of the two read how much is left, as the account has it."""
    kept = loaded.last_comparison
    read = totals_read(kept.opened["answers"][B]) if kept else None
    return read is not None and "left" in read.data


def _shown(reader: Reader, check_id: str, digest: str) -> ToSign | OtherRecord:
    """The record that the page showed; whether it may be signed is decided where it is stored."""
    check = reader.find_check(check_id)
    shown = [each for each in reader.frozen_records(check_id) if each.digest == digest]
    if check is None or not shown:
        return OtherRecord()
    return ToSign(
        record=check_id,
        edition=shown[-1].edition,
        content=shown[-1].document,
        meaning=kind_named(check.kind).meaning,
        zone=rules_in_force(reader, check.opened_at).policy.zone,
    )


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
