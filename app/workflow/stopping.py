"""The device was stopped: written down once, it counts for all that runs or is open at that bed."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta

from app.base import Act
from app.people import Permission, Role, may
from app.records import events
from app.records.infusion import misplaced_stops
from app.records.kept import Entry, KeptCheck, KeptInfusion
from app.site.installation import Site
from app.site.loading import load_check, load_infusion
from app.storage import OfChecks, OfInfusions, Reader, Transaction
from app.workflow.freezing import freeze_if_complete
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NotAllowed, NotFound, NotYours

# How long a unit is told of a stop at a bed where nothing was known; common practice, no source.
TOLD_FOR = timedelta(hours=24)


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


@dataclass(frozen=True)
class SaidMisplaced:
    """The log has that the stop was written at the wrong bed."""


def note_stop(
    site: Site, act: Act, roles: frozenset[Role], check_id: str, *, stop: Stop
) -> StopNoted | NotAllowed | NotFound:
    """Write down afterwards that someone stopped the device; nothing else is mandatory, in any phase."""
    with site.store.write() as tx:
        check = tx.find_check(check_id)
        if check is None:
            return NotFound() if _may(roles) else NotAllowed()
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
    if not _may(roles):
        return NotAllowed()
    with site.store.write() as tx:
        named = unit if tx.find_unit(unit) else act.by.unit
        return _write(tx, act, stop, unit=named, bed=_as_known(tx, named, bed))


def _as_known(reader: Reader, unit: str, typed: str) -> str:
    """The bed as it is known where something runs or is open; as it was typed where nothing is."""
    checks = reader.checks_that(OfChecks.OPEN, unit)
    going_on = (
        each
        for asked in (OfInfusions.GOES_ON, OfInfusions.UNCHECKED)
        for each in reader.infusions_that(asked, unit)
    )
    known = {each.bed for each in checks} | {each.bed for each in going_on}
    return next((bed for bed in sorted(known) if _plain(bed) == _plain(typed)), typed.strip())


def _plain(bed: str) -> str:
    """As people write a bed: in small or capital letters, with spaces, with the word bed."""
    return "".join(bed.casefold().split()).removeprefix("bed")


def _may(roles: frozenset[Role]) -> bool:
    return may(roles, Permission.CHECK) or may(roles, Permission.UNIT_STATE)


def _noted(
    tx: Transaction,
    act: Act,
    roles: frozenset[Role],
    *,
    stop: Stop,
    infusion: KeptInfusion | None,
    check: KeptCheck | None = None,
) -> StopNoted | NotAllowed | NotFound:
    if not _may(roles):
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
    hold_bed(tx, unit, bed, act.now)
    counts_for = {infusion.id: check for infusion, check in _alive_at(tx, unit, bed)}
    if named is not None:
        infusion, check = named
        counts_for[infusion.id] = counts_for.get(infusion.id) or check
    for each in sorted(check.id for check in counts_for.values() if check):
        tx.lock_check(each)
    told, first = asdict(stop), ""
    for infusion_id, its in counts_for.items():
        event = events.DeviceStopped(**told, note=first)
        entry = tx.append(event, act=act, infusion=infusion_id, check=its.id if its else "")
        first = first or str(entry.position)
    if not first:
        first = str(tx.append(events.DeviceStopped(**told, unit=unit, bed=bed), act=act).position)
    return StopNoted(note=int(first))


def _alive_at(reader: Reader, unit: str, bed: str) -> Iterator[tuple[KeptInfusion, KeptCheck | None]]:
    """The infusions at a bed that run, go on or have a check open, and the check, if one is."""
    checks = {each.infusion: each for each in reader.checks_that(OfChecks.OPEN, unit) if each.bed == bed}
    for infusion in reader.infusions_at(unit, bed):
        state = load_infusion(reader, infusion.id)
        if infusion.id in checks or state.goes_on or state.is_unchecked:
            yield infusion, checks.get(infusion.id)


@dataclass(frozen=True, kw_only=True)
class StopNowhere:
    """A stop at a bed where nothing was known: where it was said to be, by whom and when; never what else."""

    bed: str
    by: str
    at: datetime


def stops_nowhere(site: Site, act: Act, roles: frozenset[Role]) -> tuple[StopNowhere, ...]:
    """Those of the unit of the shift, for whoever may see its state: somebody must look which bed it was."""
    if not may(roles, Permission.UNIT_STATE):
        return ()
    with site.store.read() as reader:
        told = reader.stops_nowhere(act.now - TOLD_FOR)
        misplaced = misplaced_stops(told)
        found = [
            (each, each.event)
            for each in told
            if isinstance(each.event, events.DeviceStopped)
            and each.event.unit == act.by.unit
            and str(each.position) not in misplaced
        ]
        people = reader.people_with({each.by for each, _ in found}) if found else {}
    return tuple(
        StopNowhere(bed=stop.bed, by=people[each.by].printed_name if each.by in people else "", at=each.at)
        for each, stop in found
    )


def say_misplaced(site: Site, act: Act, note: int) -> SaidMisplaced | NotFound | NotYours:
    """The author's correction: it was another bed. What the stop did to others here ends.

    A clearance that it voided does not come back.
    """
    with site.store.write() as tx:
        stop = _find_note(tx, note)
        if stop is None:
            return NotFound()
        if stop.by != act.by.person:
            return NotYours()
        stops = _entries_of(tx, stop)
        said = {each.event.stop for each in stops if isinstance(each.event, events.StopMisplaced)}
        written = [each for each in stops if isinstance(each.event, events.DeviceStopped)]
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
    return SaidMisplaced()


def _find_note(reader: Reader, note: int) -> Entry | None:
    found = reader.log_entries(after=note - 1, limit=1) if note > 0 else ()
    return next((each for each in found if isinstance(each.event, events.DeviceStopped)), None)


def _entries_of(reader: Reader, first: Entry) -> list[Entry]:
    """The entries of one note, with each infusion that it counts for, and what was said of them."""
    infusion = reader.find_infusion(first.infusion)
    if infusion is None:
        said = events.StopMisplaced(stop=str(first.position))
        return [first, *(each for each in reader.entries_of_kind(said.kind) if each.event == said)]
    found: list[Entry] = []
    for each in reader.infusions_at(infusion.unit, infusion.bed):
        found += (
            entry
            for entry in reader.course(each.id)
            if isinstance(entry.event, events.StopMisplaced)
            or (
                isinstance(entry.event, events.DeviceStopped)
                and str(first.position) in (str(entry.position), entry.event.note)
            )
        )
    return found


def _open_checks_of(reader: Reader, stops: list[Entry]) -> list[KeptCheck]:
    """The open checks of the infusions that a note counts for, in the order in which they are held."""
    its = {each.infusion for each in stops}
    units = {infusion.unit for each in its if (infusion := reader.find_infusion(each))}
    are_open = (each for unit in sorted(units) for each in reader.checks_that(OfChecks.OPEN, unit))
    return sorted((each for each in are_open if each.infusion in its), key=lambda each: each.id)
