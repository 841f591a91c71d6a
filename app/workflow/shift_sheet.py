"""The charge nurse's shift sheet: what a unit has open, what waits, and what the log is, to be printed."""

from dataclasses import dataclass

from app.base import Act
from app.records.checkpoint import Checkpoint
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.workflow.listing import UnitList, unit_list


@dataclass(frozen=True, kw_only=True)
class ShiftSheet:
    """State alone and no value; `being_made` are the beds of cleared checks whose record is not made yet."""

    hospital: str
    listed: UnitList
    being_made: tuple[str, ...]
    checkpoint: Checkpoint | None


def shift_sheet(site: Site, act: Act) -> ShiftSheet:
    """The sheet of the unit of this shift; whether the person may ask is declared on the route."""
    listed = unit_list(site, act)
    with site.store.read() as reader:
        cleared = [reader.find_check(check) for check, _ in reader.unissued()]
        newest = reader.latest_checkpoint()
        hospital = rules_in_force(reader, act.now).policy.site
    beds = [each.bed for each in cleared if each is not None and each.unit == act.by.unit]
    return ShiftSheet(hospital=hospital, listed=listed, being_made=tuple(sorted(beds)), checkpoint=newest)
