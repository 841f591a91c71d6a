"""Count together, once, what does not add up; what is open after that is not the two's to settle."""

from dataclasses import dataclass

from app.base import Act
from app.records import events
from app.records.life import Action
from app.records.reading import Scope
from app.records.sources import Source
from app.site.installation import Site
from app.workflow.loading import Own, lock_own
from app.workflow.refusals import NotFound, NotNow, NotYours

RECOUNTED: Scope = ((Source.TOTALS.value, ()),)
"""What is counted once more: totals and what is left, as a whole."""


@dataclass(frozen=True, kw_only=True)
class Recounting:
    """The two count together; it is recorded as not blind."""

    round: int


def recount(site: Site, act: Act, check_id: str) -> Recounting | NotFound | NotYours | NotNow:
    """Open the reading in which both count together."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.RECOUNT)
        if not isinstance(own, Own):
            return own
        state = own.state
        if not state.recount_due or state.open_help is not None:
            return NotNow(phase=state.phase)
        number = len(state.rounds) + 1
        tx.append(
            events.NextReadingOpened(round=number, scope=RECOUNTED, touched=(), why=""),
            act=act,
            check=check_id,
        )
    return Recounting(round=number)
