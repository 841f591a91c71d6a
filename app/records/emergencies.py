"""What an emergency leaves behind on an infusion until what ends it is done: a fold, without any value."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.records import custody, events
from app.records.custody import NOBODY_HOLDS_IT, Custody, without_seal
from app.records.emergency_events import (
    CameBack,
    DeviceDied,
    EvidenceKept,
    EvidenceReceived,
    EvidenceReleased,
    HarmSuspected,
    ItchTreated,
    KeyNotFound,
    LockChanged,
    RestartDecided,
    ReversalGiven,
    SealDiffered,
    ToldAfterwards,
    WentAway,
)
from app.records.kept import Entry
from app.records.kinds import kind_named
from app.records.reading import sources_in
from app.records.sources import Source

OVERDOSE, DEATH = HARMS = ("overdose", "death")
KEY, CODE = KEYS = ("key", "code")
OTHER = "other"
AWAY_FOR = ("theatre", "mri", "procedure", OTHER)
# Whether opioids were given while the patient was away.
YES, NO, UNKNOWN = OPIOIDS = ("yes", "no", "unknown")

# Why a device was stopped, where that is more than a stop.
REVERSAL, HARM, AWAY = "reversal-agent", "overdose-or-death", "away"

# What may be told afterwards, of each.
TOLD: dict[type[events.Event], tuple[str, ...]] = {
    ReversalGiven: ("agent", "dose", "route", "given_at", "response"),
    ItchTreated: ("agent", "dose", "route", "given_at", "response"),
    WentAway: ("holder", "place", "left", "responsible"),
    KeyNotFound: ("told", "found"),
}


@dataclass(frozen=True, kw_only=True)
class Since:
    """Something that stands since an entry of the log; `what` is a code."""

    position: int
    at: datetime
    by: str
    what: str = ""


@dataclass(frozen=True, kw_only=True)
class Hold:
    """A reversal agent was given for sedation or breathing; `decided` once a prescriber decided since."""

    first: Since
    last_dose_at: datetime
    decided: Since | None = None

    def watched_until(self, watch: timedelta) -> datetime:
        """Until when somebody stays, and observes often."""
        return self.last_dose_at + watch


@dataclass(frozen=True, kw_only=True)
class Absence:
    """The patient went without PCA; `back` once somebody wrote that the patient is back.

    The line is capped from the first going on until it is started again, whether the patient is here or not.
    """

    went: Since
    capped_at: datetime
    back: Since | None = None

    def set_until(self, site_time: timedelta) -> datetime:
        """Until when the same set may be gone on with."""
        return self.capped_at + site_time

    def needs_new_set(self, now: datetime, site_time: timedelta) -> bool:
        """Whether the line was capped for too long; by a clock that was put back nobody can tell."""
        return not self.capped_at <= now <= self.set_until(site_time)


@dataclass(frozen=True, kw_only=True)
class KeyMissing:
    """A key or code is not found; `counted` once two have read what is left since."""

    missing: Since
    counted: Since | None = None


@dataclass(frozen=True, kw_only=True)
class Emergencies:
    """What stands: absence and a dead device until it is started again, a hold until two have checked that.

    The rest stands until somebody ends it. `off`: its syringe was taken for evidence, and none was put on
    since, whether or not it is free again. `custody` is of the `evidence`.
    """

    hold: Hold | None = None
    absence: Absence | None = None
    dead: Since | None = None
    off: Since | None = None
    evidence: Since | None = None
    custody: Custody = NOBODY_HOLDS_IT
    key: KeyMissing | None = None

    @property
    def waits(self) -> bool:
        """Whether something must come before it is started again."""
        return any(each is not None for each in (self.hold, self.absence, self.dead, self.off))

    @property
    def is_told(self) -> bool:
        """Whether something is told above every list until somebody ends it, whatever became of it."""
        return self.evidence is not None or self.key is not None


NOTHING_STANDS = Emergencies()


def after(before: Emergencies, entry: Entry) -> Emergencies:
    """What stands once an entry is told."""
    started = isinstance(entry.event, events.Started | events.StartedWithoutCheck)
    return Emergencies(
        # Whoever had to start it without a check decided nothing, and the agent wears off all the same.
        hold=None if isinstance(entry.event, events.Started) else _hold(before.hold, entry),
        absence=None if started else _absence(before.absence, entry),
        dead=None if started else _dead(before.dead, entry),
        off=None if started else _off(before, entry),
        evidence=_evidence(before.evidence, entry),
        custody=_custody(before, entry),
        key=_key(before.key, entry),
    )


def _hold(before: Hold | None, entry: Entry) -> Hold | None:
    match entry.event:
        case ReversalGiven():
            # A dose after the decision undoes it: the patient needed one more.
            return Hold(first=before.first if before else _since(entry), last_dose_at=entry.at)
        case RestartDecided(hold=position) if before and _is(before.first, position):
            return replace(before, decided=_since(entry))
        case _:
            return before


def _absence(before: Absence | None, entry: Entry) -> Absence | None:
    match entry.event:
        case WentAway(what=what) if before is None or before.back:
            return Absence(went=_since(entry, what), capped_at=before.capped_at if before else entry.at)
        case CameBack(away=position) if before and not before.back and _is(before.went, position):
            return replace(before, back=_since(entry))
        case _:
            return before


def _dead(before: Since | None, entry: Entry) -> Since | None:
    return before or (_since(entry) if isinstance(entry.event, DeviceDied) else None)


def _off(before: Emergencies, entry: Entry) -> Since | None:
    match entry.event:
        case EvidenceKept(harm=position) if _is(before.evidence, position):
            return before.off or _since(entry)
        case _:
            return before.off


def _evidence(before: Since | None, entry: Entry) -> Since | None:
    match entry.event:
        case HarmSuspected(what=what):
            return before or _since(entry, what)
        case EvidenceReleased(harm=position) if _is(before, position):
            return None
        case _:
            return before


def _custody(before: Emergencies, entry: Entry) -> Custody:
    match entry.event:
        case EvidenceReleased(harm=position) if _is(before.evidence, position):
            return NOBODY_HOLDS_IT
        case EvidenceKept(harm=position) | EvidenceReceived(harm=position) | SealDiffered(harm=position) if (
            _is(before.evidence, position)
        ):
            return custody.after(before.custody, entry)
        case _:
            return before.custody


def _key(before: KeyMissing | None, entry: Entry) -> KeyMissing | None:
    match entry.event:
        case KeyNotFound(what=what):
            # Lost once more, it is counted once more.
            return replace(before, counted=None) if before else KeyMissing(missing=_since(entry, what))
        case LockChanged(missing=position) if before and _is(before.missing, position):
            return None
        case events.CheckDone(counted=True) if before:
            return replace(before, counted=_since(entry))
        case events.Started(check_kind=kind) if before and Source.TOTALS in sources_in(
            kind_named(kind).reads
        ):
            # The device stood open for it: two have read how much is left.
            return replace(before, counted=_since(entry))
        case _:
            return before


def as_shown(
    entries: Iterable[Entry], stands: Emergencies, person: str, *, investigates: bool
) -> tuple[Entry, ...]:
    """Entries for one person: whoever may come to hold what is kept reads its number on the seal itself."""
    told = tuple(entries)
    if stands.evidence is None or stands.custody.shows_seal_to(person, investigates=investigates):
        return told
    harm = str(stands.evidence.position)
    return tuple(without_seal(each) if getattr(each.event, "harm", "") == harm else each for each in told)


def told_afterwards(entries: Iterable[Entry]) -> Mapping[str, Mapping[str, str]]:
    """What was told of each entry once there was time, by its position, the last of each answer."""
    told: dict[str, dict[str, str]] = {}
    for each in entries:
        if isinstance(each.event, ToldAfterwards):
            told.setdefault(each.event.of, {}).update(each.event.told)
    return told


def _since(entry: Entry, what: str = "") -> Since:
    return Since(position=entry.position, at=entry.at, by=entry.by, what=what)


def _is(since: Since | None, position: str) -> bool:
    return since is not None and position == str(since.position)


# What must come before a start, where it was started before: a hold ends with a check alone.
HOLDS = (ReversalGiven.kind,)
WAITS = (WentAway.kind, DeviceDied.kind)
# With a stop that was written at the wrong bed, these were too; others stand without any.
WITH_A_STOP = (ReversalGiven, HarmSuspected, WentAway)
WITHOUT_A_STOP = (DeviceDied, KeyNotFound, ItchTreated)
# All that bears on it.
TELLING = (
    ReversalGiven.kind,
    ItchTreated.kind,
    RestartDecided.kind,
    HarmSuspected.kind,
    EvidenceKept.kind,
    EvidenceReceived.kind,
    SealDiffered.kind,
    EvidenceReleased.kind,
    WentAway.kind,
    CameBack.kind,
    DeviceDied.kind,
    KeyNotFound.kind,
    LockChanged.kind,
    ToldAfterwards.kind,
)
