"""Stops that counted for nothing when they were written: the unit is told until one of them is settled."""

from dataclasses import dataclass, replace
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.events import DeviceStopped
from app.records.infusion import misplaced_stops
from app.records.kept import Entry
from app.records.ward_events import StopSettled
from app.site.beds import beds_in
from app.site.installation import Site
from app.site.loading import load_infusion
from app.storage import Reader
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound
from app.workflow.stopping import find_note, hold_alive_at, hold_note, said_of, stop_each


@dataclass(frozen=True, kw_only=True)
class StopNowhere:
    """A stop that counts for nothing yet: where it was said to be, by whom and when; never what else."""

    note: int
    bed: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class StopPlaced:
    """The stop is settled; it was at this bed, if at any, and counts for so many infusions."""

    bed: str
    counts_for: int


@dataclass(frozen=True, kw_only=True)
class AlreadySettled:
    """Somebody settled it before: by whom, and at which bed; none where it was nowhere."""

    by: str
    bed: str


def stops_nowhere(site: Site, act: Act, roles: frozenset[Role]) -> tuple[StopNowhere, ...]:
    """Those of the unit of the shift, for whoever may see its state: somebody must look which bed it was."""
    if not may(roles, Permission.UNIT_STATE):
        return ()
    with site.store.read() as reader:
        told = reader.stops_nowhere()
        settled = {each.event.stop for each in told if isinstance(each.event, StopSettled)}
        done = settled | misplaced_stops(told)
        found = [
            (each, each.event)
            for each in told
            if isinstance(each.event, DeviceStopped)
            and each.event.unit == act.by.unit
            and str(each.position) not in done
        ]
        people = reader.people_with({each.by for each, _ in found}) if found else {}
    return tuple(
        StopNowhere(
            note=each.position,
            bed=stop.bed,
            by=people[each.by].printed_name if each.by in people else "",
            at=each.at,
        )
        for each, stop in found
    )


def find_stop_nowhere(site: Site, act: Act, roles: frozenset[Role], note: int) -> StopNowhere | None:
    """One of them, while it is to be settled."""
    return next((each for each in stops_nowhere(site, act, roles) if each.note == note), None)


def place_stop(
    site: Site, act: Act, roles: frozenset[Role], note: int, *, unit: str, bed: str
) -> StopPlaced | AlreadySettled | NoSuchUnit | NoSuchBed | NotFound | NotAllowed:
    """Say at which bed it was: from now on it counts for what ran there when it was written."""
    with site.store.write() as tx:
        hold_note(tx, note, act.now)
        first = _to_settle(tx, act, roles, note)
        if not isinstance(first, Entry):
            return first
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        beds = beds_in(tx, unit)
        named = beds.find(bed)
        if named is None:
            return NoSuchBed(beds=beds.known)
        alive = hold_alive_at(tx, act, unit=unit, bed=named)
        counts_for = {each: check for each, check in alive.items() if _ran_before(tx, each, first.at)}
        tx.append(StopSettled(stop=str(note), unit=unit, bed=named), act=act)
        assert isinstance(first.event, DeviceStopped)  # noqa: S101  # found as one
        told = replace(
            first.event,
            # When it was written is the latest that it can have been.
            stopped_at=first.event.stopped_at or first.at.isoformat(timespec="minutes"),
            note=str(note),
            author=first.by,
            unit="",
            bed="",
        )
        stop_each(tx, act, told, counts_for)
    return StopPlaced(bed=named, counts_for=len(counts_for))


def say_nowhere(
    site: Site, act: Act, roles: frozenset[Role], note: int
) -> StopPlaced | AlreadySettled | NotFound | NotAllowed:
    """Say that nothing of the unit was stopped: who says so stands."""
    with site.store.write() as tx:
        hold_note(tx, note, act.now)
        first = _to_settle(tx, act, roles, note)
        if not isinstance(first, Entry):
            return first
        tx.append(StopSettled(stop=str(note), unit=act.by.unit, bed=""), act=act)
    return StopPlaced(bed="", counts_for=0)


def _to_settle(
    reader: Reader, act: Act, roles: frozenset[Role], note: int
) -> Entry | AlreadySettled | NotFound | NotAllowed:
    if not may(roles, Permission.SETTLE_STOP):
        return NotAllowed()
    first = find_note(reader, note)
    if first is None or not isinstance(first.event, DeviceStopped) or first.event.unit != act.by.unit:
        return NotFound()
    said = said_of(reader, first)
    if not said:
        return first
    person = reader.find_person(said[-1].by)
    event = said[-1].event
    return AlreadySettled(
        by=person.printed_name if person else "", bed=event.bed if isinstance(event, StopSettled) else ""
    )


def _ran_before(reader: Reader, infusion: str, at: datetime) -> bool:
    """Whether it was not started since: what was stopped before a start does not stop what runs now."""
    last = load_infusion(reader, infusion).last_run
    return last is None or last.since <= at
