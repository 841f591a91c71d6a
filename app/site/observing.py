"""When the patient of an infusion is observed next: what the protocol asks, and what it is told of."""

from collections.abc import Mapping
from datetime import datetime

from app.judging.observing import is_at_risk, is_continuous, starts_the_clock
from app.records.bolus_events import StaffBolusGiven
from app.records.boluses import OF_BOLUSES
from app.records.change_events import PatientTaken
from app.records.emergency_events import ItchTreated, ReversalGiven
from app.records.events import CheckDone, Event, Started, StartedWithoutCheck
from app.records.infusion import InfusionState, misplaced_stops
from app.records.kept import Entry, KeptComparison
from app.records.kinds import kind_named
from app.records.known import NOTHING_KNOWN, known_by
from app.records.observing import Facts, Protocol, due_after, next_due
from app.records.reading import sources_in
from app.records.sources import Source
from app.records.ward_events import LineLooked, PatientObserved
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
    facts = _facts(reader, infusion, protocol)
    if facts is None or not _is_observed(infusion, protocol, now):
        return None
    return next_due(protocol, facts, now)


def observe_by(reader: Reader, infusion: InfusionState, protocol: Protocol, now: datetime) -> datetime | None:
    """The same where pages remind of it: counted from when that was last told here, it may have passed."""
    facts = _facts(reader, infusion, protocol) if protocol.reminds else None
    if facts is None or not _is_observed(infusion, protocol, now):
        return None
    seen = [each.at for each in reader.course(infusion.infusion) if _tells_of_the_patient(each.event)]
    return due_after(protocol, facts, max(seen, default=facts.clock_since))


def _is_observed(infusion: InfusionState, protocol: Protocol, now: datetime) -> bool:
    """Whether it runs, or the patient is watched after a reversal agent."""
    held = infusion.emergencies.hold
    return infusion.is_running or (
        held is not None and now < held.watched_until(protocol.after_reversal.lasts)
    )


def _tells_of_the_patient(event: Event) -> bool:
    """Whether somebody looked at sedation and breathing, by what this event says."""
    if isinstance(event, CheckDone):
        return Source.BEDSIDE in sources_in(kind_named(event.check_kind).reads)
    return isinstance(event, (Started, LineLooked, PatientObserved)) or event.kind in OF_BOLUSES


def _facts(reader: Reader, infusion: InfusionState, protocol: Protocol) -> Facts | None:
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
        clock_since=_clock(told, read, protocol.recovery),
        is_continuous=in_force is not None and is_continuous(known_by(in_force.opened["case"])),
        is_at_risk=in_force is not None and is_at_risk(in_force.told),
        reversed_at=hold.last_dose_at if hold else None,
    )


def _started(told: list[Entry]) -> list[str]:
    return [each.check for each in told if isinstance(each.event, Started)]


def _clock(
    told: list[Entry], read: Mapping[str, KeptComparison | None], recovery: frozenset[str]
) -> datetime:
    """Since when the clock runs: since the last of all that starts it again."""
    known, since = NOTHING_KNOWN, None
    for entry in told:
        if isinstance(entry.event, _AGAIN) or _leaves_recovery(entry.event, recovery):
            since = entry.at
        elif isinstance(entry.event, Started):
            kept = read[entry.check]
            now = known_by(kept.opened["case"]) if kept else NOTHING_KNOWN
            since = entry.at if starts_the_clock(known, now) else since
            known = now
    assert since is not None  # noqa: S101  # it was started, and the first start starts the clock
    return since


def _leaves_recovery(event: Event, recovery: frozenset[str]) -> bool:
    """Whether a nurse of another unit took the patient from one where each is watched."""
    return isinstance(event, PatientTaken) and event.before_unit in recovery and event.unit not in recovery


def _last(reader: Reader, check: str) -> KeptComparison | None:
    return read_of(reader.comparisons(check)).last
