"""Ask once more, while it can still be refused, whether PCA runs already for the patient or at the bed."""

from dataclasses import dataclass
from datetime import datetime

from app.judging.elsewhere import beside, says_where
from app.records.kept import A, B
from app.site.loading import Loaded, running_beside
from app.storage import Transaction
from app.workflow.queueing import one_at_a_time


@dataclass(frozen=True, kw_only=True)
class RunsElsewhere:
    """PCA runs already for this patient, or at this bed; `says` where, and nothing more of it."""

    says: str


def find_elsewhere(tx: Transaction, loaded: Loaded, now: datetime) -> RunsElsewhere | None:
    """What stands against the end of this check; whoever asks at the same time waits until this one is over.

    It changes between the comparison and the start: two checks of one patient may go on at two beds.
    """
    one_at_a_time(tx, "beginning to run", now)
    kept, state = loaded.last_comparison, loaded.state
    assert kept is not None  # noqa: S101  # what is signed was compared
    read = kept.opened["answers"]
    says = says_where(beside(state.kind, read[A], read[B], running_beside(tx, state.check)))
    return RunsElsewhere(says=says) if says else None
