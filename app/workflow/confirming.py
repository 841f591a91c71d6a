"""Whose part a press on a screen is: whoever is signed in there, or the other nurse once all may be seen."""

from dataclasses import dataclass, replace
from enum import StrEnum

from app.base import Act
from app.records.life import Action
from app.records.state import Phase
from app.site.installation import Site
from app.storage import Transaction
from app.workflow.asked_first import unready_here
from app.workflow.credentials import Known, Where, acting_as, forget_tries, try_credential
from app.workflow.loading import Own, lock_own
from app.workflow.refusals import NotFound, NotNow, NotYours, TooManyTries, WrongCredential
from app.workflow.shift_sessions import PinKnown, ShiftOver, WrongPin, open_session, try_pin

# From agreed on both may work on one screen.
TOGETHER = frozenset({Phase.AGREED, Phase.STEPS, Phase.SIGNING, Phase.CLEARED})


@dataclass(frozen=True, kw_only=True)
class Part:
    """The part that a page was served for and who gave a credential with it; the own one has no slot."""

    slot: int | None = None
    given: Known | PinKnown | None = None


OWN_PART = Part()


class Unconfirmed(StrEnum):
    """Why a part is not confirmed."""

    NO_CREDENTIAL = "it is not of whoever is signed in here, and nobody gave a credential"
    OTHER_PERSON = "the credential belongs to somebody else than the nurse whose part this is"
    NOT_SEEN = "no colleague has seen this nurse since the login was made or reset"
    NOT_READY = "the site asks something of this nurse first: training, or to accept its statement"
    EACH_ALONE = "until the readings agree each confirms where signed in"


@dataclass(frozen=True)
class NotConfirmed:
    """The nurse whose part it is did not confirm it, or cannot here."""

    why: Unconfirmed


def part_with(
    site: Site, act: Act, *, slot: int | None, login: str, secret: str
) -> Part | WrongCredential | TooManyTries:
    """The part for which id and secret are given; whether it is that nurse's is decided by what then acts."""
    if not login and not secret:
        return Part(slot=slot)
    known = try_credential(
        site, act.now, login=login, secret=secret, what="confirming", where=Where(signed_in=act.by.person)
    )
    return Part(slot=slot, given=known) if isinstance(known, Known) else known


def part_with_pin(
    site: Site, act: Act, *, slot: int | None, shift_session: str, pin: str
) -> Part | WrongPin | ShiftOver:
    """The same, for which six digits of a shift session at this screen are given."""
    known = try_pin(site, act.now, shift_session=shift_session, device=act.by.device, pin=pin)
    return Part(slot=slot, given=known) if isinstance(known, PinKnown) else known


def lock_part(
    tx: Transaction, act: Act, check_id: str, action: Action, *, part: Part
) -> Own | NotFound | NotYours | NotNow | NotConfirmed:
    """The check for the nurse whose part this is, on a screen of one of its two."""
    if part.given is not None:
        _forget(tx, part.given)
    own = lock_own(tx, act, check_id, action)
    if not isinstance(own, Own) or part.slot in (None, own.slot):
        return own
    state = own.state
    if part.slot not in state.people:
        return NotYours()
    if state.phase not in TOGETHER:
        return NotConfirmed(Unconfirmed.EACH_ALONE)
    if part.given is None:
        return NotConfirmed(Unconfirmed.NO_CREDENTIAL)
    if _who(part.given) != state.people[part.slot]:
        return NotConfirmed(Unconfirmed.OTHER_PERSON)
    acting = _acting(tx, act, part.given)
    return acting if isinstance(acting, NotConfirmed) else replace(own, slot=part.slot, act=acting)


def _forget(tx: Transaction, given: Known | PinKnown) -> None:
    """What failed before does not count any more."""
    if isinstance(given, Known):
        forget_tries(tx, given)
    else:
        tx.set_tries(given.shift_session.id, 0)


def _who(given: Known | PinKnown) -> str:
    return given.person.id if isinstance(given, Known) else given.shift_session.person


def _acting(tx: Transaction, act: Act, given: Known | PinKnown) -> Act | NotConfirmed:
    """The act of whoever gave it: by six digits in a session of its own, which lasts for this act alone."""
    if unready_here(tx, act.now, _who(given)) is not None:
        return NotConfirmed(Unconfirmed.NOT_READY)
    if isinstance(given, Known):
        seen = given.person.key_confirmed
        return acting_as(act, given.person) if seen else NotConfirmed(Unconfirmed.NOT_SEEN)
    # A reset ends what six digits open.
    opened = open_session(tx, act.now, given, ended=True)
    return NotConfirmed(Unconfirmed.NO_CREDENTIAL) if opened is None else replace(act, by=opened.actor)
