"""The device was stopped: written down once, it counts for all that runs or is open at that bed."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime

from app.base import Act
from app.judging.elsewhere import says_where
from app.people import Role
from app.records import events
from app.records.beds import places_ever
from app.records.emergencies import REVERSAL, WITH_A_STOP, WITHOUT_A_STOP
from app.records.emergency_events import DeviceDied, ReversalGiven
from app.records.ending_events import EndWithdrawn
from app.records.kept import Entry, KeptCheck, KeptInfusion
from app.records.visibility import bed_of
from app.records.ward_events import LinePaused, StopSettled
from app.site.beds import find_bed
from app.site.installation import Site
from app.site.loading import load_check, unit_name
from app.storage import Reader, Transaction
from app.workflow.elsewhere import beside_of, note_two_run
from app.workflow.freezing import freeze_if_complete
from app.workflow.loading import may_protect
from app.workflow.queueing import hold_bed, one_at_a_time
from app.workflow.refusals import NotAllowed, NotFound, NotYours


@dataclass(frozen=True, kw_only=True)
class Stop:
    """When the device was stopped, why, and its totals: as they were told, each may be empty."""

    stopped_at: str = ""
    why: str = ""
    totals: str = ""


@dataclass(frozen=True, kw_only=True)
class StopNoted:
    """The stop is in the log; by its number its author may say that it was another bed."""

    note: int


@dataclass(frozen=True, kw_only=True)
class SaidMisplaced:
    """The log has that the stop was written at the wrong bed.

    `says` what runs, by the log, and cannot run beside what runs again; blank where nothing does. What was no
    stop is written down elsewhere than at a bed.
    """

    says: str = ""
    is_stop: bool = True


def note_stop(
    site: Site, act: Act, roles: frozenset[Role], check_id: str, *, stop: Stop
) -> StopNoted | NotAllowed | NotFound:
    """Write down afterwards that someone stopped the device; nothing else is mandatory, in any phase."""
    with site.store.write() as tx:
        check = tx.find_check(check_id)
        if check is None:
            return NotFound() if may_protect(roles) else NotAllowed()
        return _noted(tx, act, roles, stop=stop, infusion=tx.find_infusion(check.infusion), check=check)


def note_stop_of_infusion(
    site: Site, act: Act, roles: frozenset[Role], infusion_id: str, *, stop: Stop
) -> StopNoted | NotAllowed | NotFound:
    """The same of an infusion, whether or not there is a check of it."""
    with site.store.write() as tx:
        return _noted(tx, act, roles, stop=stop, infusion=tx.find_infusion(infusion_id))


def note_stop_at(
    site: Site, act: Act, roles: frozenset[Role], *, unit: str, bed: str, stop: Stop
) -> StopNoted | NotAllowed:
    """The same of a bed. Where nothing is known to be there, it is saved, and the unit is told."""
    if not may_protect(roles):
        return NotAllowed()
    with site.store.write() as tx:
        named = unit if tx.find_unit(unit) else act.by.unit
        return _write(tx, act, stop, unit=named, bed=find_bed(tx, named, bed) or bed.strip())


def _noted(
    tx: Transaction,
    act: Act,
    roles: frozenset[Role],
    *,
    stop: Stop,
    infusion: KeptInfusion | None,
    check: KeptCheck | None = None,
) -> StopNoted | NotAllowed | NotFound:
    if not may_protect(roles):
        return NotAllowed()
    if infusion is None:
        return NotFound()
    return _write(tx, act, stop, unit=infusion.unit, bed=infusion.bed, named=(infusion, check))


def _write(
    tx: Transaction,
    act: Act,
    stop: Stop,
    *,
    unit: str,
    bed: str,
    named: tuple[KeptInfusion, KeptCheck | None] | None = None,
) -> StopNoted:
    """One entry with each infusion that it counts for, after whoever acts on a check of them."""
    counts_for = hold_alive_at(tx, act, unit=unit, bed=bed, named=named)
    told = events.DeviceStopped(**asdict(stop))
    if not counts_for:
        nowhere = tx.append(replace(told, unit=unit, bed=bed), act=act)
        return StopNoted(note=nowhere.position)
    return StopNoted(note=stop_each(tx, act, told, counts_for))


def hold_alive_at(
    tx: Transaction,
    act: Act,
    *,
    unit: str,
    bed: str,
    named: tuple[KeptInfusion, KeptCheck | None] | None = None,
) -> dict[str, str]:
    """Whatever runs, goes on or has a check open at a bed, each with that check, held to the act's end.

    What another unit took from there is checked where it is now; where an infusion is named, it is that one
    which is meant and not whoever lay there before.
    """
    places = sorted({(unit, bed), *(bed_of(each) for each in tx.alive_at(unit, bed))})
    for place in places:
        hold_bed(tx, *place, act.now)
    checks = {each.infusion: each.id for place in places for each in tx.open_checks_at(*place)}
    alive = tx.alive_at(unit, bed)
    meant = [each for each in alive if named is None or bed_of(each) == (unit, bed)]
    counts_for = {each.id: checks.get(each.id, "") for each in meant}
    if named is not None:
        infusion, check = named
        counts_for[infusion.id] = counts_for.get(infusion.id) or (check.id if check else "")
    for each in sorted(check for check in counts_for.values() if check):
        tx.lock_check(each)
    return counts_for


def stop_each(
    tx: Transaction,
    act: Act,
    told: events.DeviceStopped,
    counts_for: Mapping[str, str],
    *,
    emergency: Callable[..., events.Event] | None = None,
    only: str = "",
) -> int:
    """Write the stop with each infusion, and the check of it that is open; the number of the note.

    With it stands the `emergency` that it was for, made of that number; a reversal agent is one. What is of
    `only` one infusion stands with that.
    """
    first = told.note
    if emergency is None and told.why == REVERSAL:
        emergency = ReversalGiven
    for infusion, check in counts_for.items():
        entry = tx.append(replace(told, note=first), act=act, infusion=infusion, check=check)
        first = first or str(entry.position)
        if emergency is not None and only in ("", infusion):
            tx.append(emergency(note=first), act=act, infusion=infusion)
    return int(first)


def say_misplaced(site: Site, act: Act, note: int) -> SaidMisplaced | NotFound | NotYours:
    """The author's correction: it was another bed. What the stop did to others here ends.

    So does a dead device, a lost key or an agent for itch, with which no stop stands. A clearance that was
    voided does not come back. What runs again is held against all that runs: the same patient may have got
    the next one meanwhile.
    """
    with site.store.write() as tx:
        hold_note(tx, note, act.now)
        stop = _find_written(tx, note)
        if stop is None:
            return NotFound()
        is_stop = isinstance(stop.event, events.DeviceStopped)
        stops = _entries_of(tx, stop) if is_stop else _alone(tx, stop)
        if not _is_author(act, stops):
            return NotYours()
        said = {each.event.stop for each in stops if isinstance(each.event, events.StopMisplaced)}
        written = [each for each in stops if isinstance(each.event, _OF_A_NOTE)]
        # All that the correction touches is held before the first entry is written.
        open_checks = _open_checks_of(tx, written)
        for check in open_checks:
            tx.lock_check(check.id)
        for each in written:
            if str(each.position) not in said:
                event = events.StopMisplaced(stop=str(each.position))
                tx.append(event, act=act, infusion=each.infusion, check=each.check)
        for check in open_checks:
            freeze_if_complete(tx, load_check(tx, check, act.now), act=act)
        again = _infusions_of(tx, written) if is_stop else []
        found = [each for infusion in again for each in note_two_run(tx, act, infusion)]
    return SaidMisplaced(says=says_where(found), is_stop=is_stop)


@dataclass(frozen=True)
class SaidNotOver:
    """The log has that PCA did not end with the stop: it was for something else."""


def say_not_over(site: Site, act: Act, note: int) -> SaidNotOver | NotFound | NotYours:
    """The author's correction of a stop for good: it stays a stop, and what it was for is open again."""
    with site.store.write() as tx:
        hold_note(tx, note, act.now)
        stop = find_note(tx, note)
        if stop is None:
            return NotFound()
        stops = _entries_of(tx, stop)
        if not _is_author(act, stops):
            return NotYours()
        for infusion in _infusions_of(tx, stops):
            hold_bed(tx, infusion.unit, infusion.bed, act.now)
        for each in _for_good(stops):
            tx.append(EndWithdrawn(stop=str(each.position)), act=act, infusion=each.infusion)
    return SaidNotOver()


def may_be_not_over(site: Site, act: Act, note: int) -> bool:
    """Whether this person wrote that PCA ended with this stop, and has not said otherwise since."""
    with site.store.read() as reader:
        stop = find_note(reader, note)
        stops = _entries_of(reader, stop) if stop else []
        return _is_author(act, stops) and bool(_for_good(stops))


def _is_author(act: Act, stops: list[Entry]) -> bool:
    return act.by.person in {each.by for each in stops if isinstance(each.event, _WRITTEN)}


def _for_good(stops: list[Entry]) -> list[Entry]:
    """The entries of a note by which PCA ended, of which nothing else was said since."""
    said = {each.event.stop for each in stops if isinstance(each.event, _SAID)}
    return [
        each
        for each in stops
        if isinstance(each.event, events.DeviceStopped)
        and each.event.why == events.END_OF_THERAPY
        and each.infusion
        and str(each.position) not in said
    ]


@dataclass(frozen=True, kw_only=True)
class TwoRun:
    """What runs again, by unit and bed, and `says` what cannot run beside it."""

    unit: str
    bed: str
    says: str


def find_two_run(site: Site, act: Act, note: int) -> TwoRun | None:
    """For whoever said that a stop was of another bed: what cannot run beside what runs again."""
    with site.store.read() as reader:
        stop = find_note(reader, note)
        stops = _entries_of(reader, stop) if stop else []
        if act.by.person not in {each.by for each in stops if isinstance(each.event, events.StopMisplaced)}:
            return None
        written = [each for each in stops if isinstance(each.event, events.DeviceStopped)]
        for infusion in _infusions_of(reader, written):
            says = says_where(beside_of(reader, infusion))
            if says:
                return TwoRun(unit=unit_name(reader, infusion.unit), bed=infusion.bed, says=says)
    return None


def _infusions_of(reader: Reader, stops: list[Entry]) -> list[KeptInfusion]:
    named = dict.fromkeys(each.infusion for each in stops)
    return [kept for each in named if (kept := reader.find_infusion(each)) is not None]


# A note, and what stands with it.
_OF_A_NOTE = (events.DeviceStopped, *WITH_A_STOP, *WITHOUT_A_STOP, LinePaused)
# What its author says of it since.
_SAID = (events.StopMisplaced, EndWithdrawn)
# Whoever wrote the note, and whoever said since where it belongs.
_WRITTEN = (events.DeviceStopped, StopSettled, *WITHOUT_A_STOP)


def hold_note(tx: Transaction, note: int, now: datetime) -> None:
    """What is said of one note follows each other."""
    one_at_a_time(tx, f"stop {note}", now)


def find_note(reader: Reader, note: int) -> Entry | None:
    """The first entry of a note, by its number."""
    found = _find_written(reader, note)
    return found if found is not None and isinstance(found.event, events.DeviceStopped) else None


def _find_written(reader: Reader, note: int) -> Entry | None:
    """The same, or what was written in a hurry without a stop."""
    found = reader.log_entries(after=note - 1, limit=1) if note > 0 else ()
    return next(
        (each for each in found if isinstance(each.event, (events.DeviceStopped, *WITHOUT_A_STOP))), None
    )


def _alone(reader: Reader, first: Entry) -> list[Entry]:
    """What stands without a stop, with the pause that was written with it, and what was said of them."""
    pause = first.event.pause if isinstance(first.event, DeviceDied) else ""
    return [
        each
        for each in reader.course(first.infusion)
        if isinstance(each.event, events.StopMisplaced) or str(each.position) in {str(first.position), pause}
    ]


def said_of(reader: Reader, first: Entry) -> list[Entry]:
    """What was said of a stop that counted for nothing when it was written."""
    told = (events.StopMisplaced, StopSettled)
    number = str(first.position)
    return [
        each for each in reader.stops_nowhere() if isinstance(each.event, told) and each.event.stop == number
    ]


def _entries_of(reader: Reader, first: Entry) -> list[Entry]:
    """The entries of one note, with each infusion that it counts for, and what was said of them."""
    infusion = reader.find_infusion(first.infusion)
    if infusion is not None:
        # It may have been moved since, and have been found at two beds when the note was written.
        places = sorted(places_ever(bed_of(infusion), reader.course(infusion.id)))
        found = (entry for each in places for entry in _entries_at(reader, first, *each))
        return list({each.position: each for each in found}.values())
    said = said_of(reader, first)
    placed = (each.event for each in said if isinstance(each.event, StopSettled) and each.event.bed)
    at_beds = (entry for each in placed for entry in _entries_at(reader, first, each.unit, each.bed))
    return [first, *said, *at_beds]


def _entries_at(reader: Reader, first: Entry, unit: str, bed: str) -> Iterator[Entry]:
    for each in reader.infusions_ever_at(unit, bed):
        for entry in reader.course(each.id):
            event = entry.event
            if isinstance(event, _SAID) or (
                isinstance(event, (events.DeviceStopped, *WITH_A_STOP))
                and str(first.position) in (str(entry.position), event.note)
            ):
                yield entry


def _open_checks_of(reader: Reader, stops: list[Entry]) -> list[KeptCheck]:
    """The open checks of the infusions that a note counts for, in the order in which they are held."""
    found: dict[str, KeptCheck] = {}
    for each in stops:
        infusion = reader.find_infusion(each.infusion)
        if infusion is not None:
            at_bed = reader.open_checks_at(infusion.unit, infusion.bed)
            found |= {check.id: check for check in at_bed if check.infusion == infusion.id}
    return [found[check] for check in sorted(found)]
