"""Whose part a press on a screen is: whoever is signed in there, or the other nurse once all may be seen."""

from dataclasses import dataclass, replace
from enum import StrEnum

from app.base import Act
from app.records.life import Action
from app.records.state import Phase
from app.site.installation import Site
from app.storage import Transaction
from app.workflow.credentials import Known, acting_as, forget_tries, try_credential
from app.workflow.loading import Own, lock_own
from app.workflow.refusals import NotFound, NotNow, NotYours, TooManyTries, WrongCredential

# From agreed on both may work on one screen.
TOGETHER = frozenset({Phase.AGREED, Phase.STEPS, Phase.SIGNING, Phase.CLEARED})


@dataclass(frozen=True, kw_only=True)
class Part:
    """The part that a page was served for and who gave a credential with it; the own one has no slot."""

    slot: int | None = None
    given: Known | None = None


OWN_PART = Part()


class Unconfirmed(StrEnum):
    """Why a part is not confirmed."""

    NO_CREDENTIAL = "it is not of whoever is signed in here, and nobody gave a credential"
    OTHER_PERSON = "the credential belongs to somebody else than the nurse whose part this is"
    EACH_ALONE = "until the readings agree each confirms where signed in"


@dataclass(frozen=True)
class NotConfirmed:
    """The nurse whose part it is did not confirm it, or cannot here."""

    why: Unconfirmed


def part_with(
    site: Site, act: Act, *, slot: int | None, login: str, secret: str
) -> Part | WrongCredential | TooManyTries:
    """The part for which a credential is given; whether it is that nurse's is decided by what then acts."""
    if not login and not secret:
        return Part(slot=slot)
    known = try_credential(site, act.now, login=login, secret=secret, what="confirming")
    return Part(slot=slot, given=known) if isinstance(known, Known) else known


def lock_part(
    tx: Transaction, act: Act, check_id: str, action: Action, *, part: Part
) -> Own | NotFound | NotYours | NotNow | NotConfirmed:
    """The check for the nurse whose part this is, on a screen of one of its two."""
    if part.given is not None:
        forget_tries(tx, part.given)
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
    if part.given.person.id != state.people[part.slot]:
        return NotConfirmed(Unconfirmed.OTHER_PERSON)
    return replace(own, slot=part.slot, act=acting_as(act, part.given.person))
