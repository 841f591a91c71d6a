"""A start without a check that was written at the wrong bed: whose word it was, and what keeps it as it is.

It is put right as a stop is: the fold of the infusion and of its account leave it out (`misplaced_stops`).
"""

from collections.abc import Iterable

from app.records import events
from app.records.account_events import AccountLeftOpen
from app.records.change_events import PatientTaken
from app.records.infusion import misplaced_stops
from app.records.kept import Entry
from app.records.paper_events import PaperConfirmed
from app.records.ward_events import DrugTakenBack

# With these somebody else has found what was started, or drug of it is gone.
_BUILT = (
    events.Signed,
    events.CheckDone,
    events.Started,
    events.LedToCheck,
    AccountLeftOpen,
    PatientTaken,
    PaperConfirmed,
    DrugTakenBack,
)


def counting_starts(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Each time that an infusion is said to have started without a check, but for those at the wrong bed."""
    told = tuple(entries)
    misplaced = misplaced_stops(told)
    return tuple(
        each
        for each in told
        if isinstance(each.event, events.StartedWithoutCheck) and str(each.position) not in misplaced
    )


def is_built_on(entries: Iterable[Entry], start: Entry) -> bool:
    """Whether what came after a start rests on it; what was told of a check that gave way to one does not."""
    told = tuple(entries)
    gave_way = {
        each.event.instead_of for each in told if isinstance(each.event, events.StartedWithoutCheck)
    } - {""}
    return any(
        each.position > start.position and isinstance(each.event, _BUILT) and each.check not in gave_way
        for each in told
    )


def last_start_of(entries: Iterable[Entry], who: str) -> Entry | None:
    """The last start that somebody wrote down and may put right; None where there is none."""
    told = tuple(entries)
    own = [each for each in counting_starts(told) if each.by == who]
    return own[-1] if own and not is_built_on(told, own[-1]) else None
