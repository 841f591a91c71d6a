"""Who confirms on a screen: whoever is signed in there or, once blindness is over, the other nurse too."""

from dataclasses import dataclass

from app.base import Act
from app.records.state import CheckState, Phase
from app.site.installation import Site
from app.workflow.credentials import Known, acting_as, verify_credential
from app.workflow.refusals import NotNow, NotYours, TooManyTries, WrongCredential

# From agreed on both may work on one screen.
TOGETHER = frozenset({Phase.AGREED, Phase.STEPS, Phase.SIGNING, Phase.CLEARED})


@dataclass(frozen=True)
class OtherPerson:
    """The credential is right and belongs to somebody else than the nurse whose part this is."""


Unconfirmed = NotYours | NotNow | OtherPerson | WrongCredential | TooManyTries


def act_for_slot(
    site: Site, act: Act, state: CheckState, *, slot: int, login: str, secret: str
) -> Act | Unconfirmed:
    """The act of the nurse who holds this slot; id and secret matter only when another is signed in.

    What follows is decided again, from the database, by what is then done.
    """
    own = state.slot_of(act.by.person)
    if own is None or slot not in state.people:
        return NotYours()
    if own == slot:
        return act
    if state.phase not in TOGETHER:
        return NotNow(phase=state.phase)
    known = verify_credential(site, act.now, login=login, secret=secret, what="confirming")
    if not isinstance(known, Known):
        return known
    return acting_as(act, known.person) if known.person.id == state.people[slot] else OtherPerson()
