"""Sign the frozen record; both signatures together are clearance, decided in the transaction that signs."""

from dataclasses import dataclass

from app.base import Act
from app.records import events
from app.records.kept import FIRST, SECOND, KeptSignature
from app.records.life import Action, may_be_done
from app.records.state import CheckState
from app.workflow.credentials import Known, acting_as, verify_credential
from app.workflow.loading import lock_and_load
from app.workflow.refusals import NotFound, NotNow, NotYours, TooManyTries, WrongCredential
from app.workflow.site import Site

MEANING = (
    "I read order, label, device and patient myself, without the other's reading; "
    "I confirmed the safety steps that stand under my name; I agree that the infusion may start."
)


@dataclass(frozen=True, kw_only=True)
class Signed:
    """The clinician's signature is on; `cleared` when both are."""

    cleared: bool


@dataclass(frozen=True)
class AlreadySigned:
    """The clinician has signed this record."""


@dataclass(frozen=True)
class OtherRecord:
    """The record shown on the page is not the one that stands: look again before signing."""


@dataclass(frozen=True)
class StillOpen:
    """A stop, an unacknowledged caution, an unconfirmed step or a request for help is open."""


def sign_record(
    site: Site, act: Act, check_id: str, *, login: str, secret: str, digest: str
) -> (
    Signed
    | AlreadySigned
    | OtherRecord
    | StillOpen
    | NotFound
    | NotYours
    | NotNow
    | WrongCredential
    | TooManyTries
):
    """Sign with id and secret, every time; the digest is the one that the page showed."""
    known = verify_credential(site, act.now, login=login, secret=secret, what="signing")
    if not isinstance(known, Known):
        return known
    signer = acting_as(act, known.person)
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, act.now)
        if loaded is None:
            return NotFound()
        state = loaded.state
        slot = state.slot_of(known.person.id)
        if slot is None:
            return NotYours()
        refusal = _refusal(state, slot, digest)
        if refusal is not None:
            return refusal
        tx.add_signature(
            KeptSignature(
                check=check_id,
                edition=state.edition,
                slot=slot,
                person=known.person.id,
                printed_name=known.person.printed_name,
                digest=state.frozen_digest,
                meaning=MEANING,
                signed_at=act.now,
                session=signer.by.session,
                device=signer.by.device,
                signed_in_at=signer.by.signed_in_at,
            )
        )
        tx.append(
            events.Signed(edition=state.edition, slot=slot, digest=state.frozen_digest, meaning=MEANING),
            act=signer,
            check=check_id,
            infusion=state.check.infusion,
        )
        other = SECOND if slot == FIRST else FIRST
        return Signed(cleared=other in state.signatures)


def _refusal(
    state: CheckState, slot: int, digest: str
) -> AlreadySigned | OtherRecord | StillOpen | NotNow | None:
    if slot in state.signatures:
        return AlreadySigned()
    if not may_be_done(Action.SIGN, state.phase):
        return NotNow(phase=state.phase)
    if state.open_help is not None or not state.steps_complete:
        return StillOpen()
    return OtherRecord() if digest != state.frozen_digest else None
