"""When the patient of an infusion is observed next: what the protocol asks, and what it is told of."""

from collections.abc import Mapping
from datetime import datetime

from app.judging.observing import is_at_risk, is_continuous, starts_the_clock
from app.records.bolus_events import StaffBolusGiven
from app.records.emergency_events import ItchTreated, ReversalGiven
from app.records.events import Started, StartedWithoutCheck
from app.records.infusion import InfusionState, misplaced_stops
from app.records.kept import Entry, KeptComparison
from app.records.known import NOTHING_KNOWN, known_by
from app.records.observing import Facts, Protocol, next_due
from app.site.loading import read_of
from app.storage import Reader

# After these the clock starts again, whatever is set.
_AGAIN = (StartedWithoutCheck, ReversalGiven, ItchTreated, StaffBolusGiven)


def observe_next(
    reader: Reader, infusion: InfusionState, protocol: Protocol, now: datetime
) -> datetime | None:
    """When the patient is due to be observed next; None where nothing runs and nobody watches.

    It follows from what is in force: only for whoever may see that.
    """
    facts = _facts(reader, infusion)
    if facts is None:
        return None
    watched = infusion.emergencies.hold
    is_watched = watched is not None and now < watched.watched_until(protocol.after_reversal.lasts)
    return next_due(protocol, facts, now) if infusion.is_running or is_watched else None


def _facts(reader: Reader, infusion: InfusionState) -> Facts | None:
    if not infusion.runs:
        return None
    course = reader.course(infusion.infusion)
    misplaced = misplaced_stops(course)
    told = [each for each in course if str(each.position) not in misplaced]
    read = {each: _last(reader, each) for each in {infusion.in_force, *_started(told)} if each}
    in_force = read.get(infusion.in_force)
    hold = infusion.emergencies.hold
    return Facts(
        given_since=infusion.runs[0].since,
        clock_since=_clock(told, read),
        is_continuous=in_force is not None and is_continuous(known_by(in_force.opened["case"])),
        is_at_risk=in_force is not None and is_at_risk(in_force.told),
        reversed_at=hold.last_dose_at if hold else None,
    )


def _started(told: list[Entry]) -> list[str]:
    return [each.check for each in told if isinstance(each.event, Started)]


def _clock(told: list[Entry], read: Mapping[str, KeptComparison | None]) -> datetime:
    """Since when the clock runs: since the last of all that starts it again."""
    known, since = NOTHING_KNOWN, None
    for entry in told:
        if isinstance(entry.event, _AGAIN):
            since = entry.at
        elif isinstance(entry.event, Started):
            kept = read[entry.check]
            now = known_by(kept.opened["case"]) if kept else NOTHING_KNOWN
            since = entry.at if starts_the_clock(known, now) else since
            known = now
    assert since is not None  # noqa: S101  # it was started, and the first start starts the clock
    return since


def _last(reader: Reader, check: str) -> KeptComparison | None:
    return read_of(reader.comparisons(check)).last
