"""Add and retire a bed of a unit: two events, and nothing that happened at a bed changes by them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records import ward_events
from app.records.beds import LONGEST_BED, plain
from app.site.beds import beds_in
from app.site.installation import Site
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NoSuchBed, NoSuchUnit


@dataclass(frozen=True, kw_only=True)
class BedKept:
    """The unit has the bed, written like this: from now on, or already."""

    bed: str


@dataclass(frozen=True)
class BedGone:
    """The unit has the bed no longer."""


@dataclass(frozen=True)
class NotABed:
    """A bed is a number or a short name."""


@dataclass(frozen=True, kw_only=True)
class BedInUse:
    """Something runs, waits or is open at the bed: first that ends."""

    bed: str


def add_bed(site: Site, now: datetime, *, by: str, unit: str, bed: str) -> BedKept | NotABed | NoSuchUnit:
    """Add a bed; one that was there before comes back as it was written then."""
    named = bed.strip()
    if not plain(named) or len(named) > LONGEST_BED or not named.isprintable():
        return NotABed()
    with site.store.write() as tx:
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        hold_bed(tx, unit, named, now)
        beds = beds_in(tx, unit)
        known = beds.find(named)
        if known is not None:
            return BedKept(bed=known)
        kept = beds.find_retired(named) or named
        tx.append(ward_events.BedAdded(unit=unit, bed=kept), at=now, by=by)
    return BedKept(bed=kept)


def retire_bed(
    site: Site, now: datetime, *, by: str, unit: str, bed: str
) -> BedGone | BedInUse | NoSuchBed | NoSuchUnit:
    """Retire a bed at which nothing runs, waits or is open."""
    with site.store.write() as tx:
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        hold_bed(tx, unit, bed, now)
        beds = beds_in(tx, unit)
        known = beds.find(bed)
        if known is None:
            return NoSuchBed(beds=beds.known)
        if tx.alive_at(unit, known):
            return BedInUse(bed=known)
        tx.append(ward_events.BedRetired(unit=unit, bed=known), at=now, by=by)
    return BedGone()


def beds_of_units(site: Site) -> Mapping[str, tuple[str, ...]]:
    """The beds of each unit of the site."""
    with site.store.read() as reader:
        return {unit.id: beds_in(reader, unit.id).known for unit in reader.units()}


def beds_of_unit(site: Site, unit: str) -> tuple[str, ...]:
    """The beds of one unit."""
    with site.store.read() as reader:
        return beds_in(reader, unit).known
