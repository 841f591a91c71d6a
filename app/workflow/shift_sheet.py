"""The charge nurse's shift sheet: what a unit has open, what waits, and what the log is, to be printed."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.base import Act
from app.records.checkpoint import Checkpoint
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.workflow.listing import UnitList, people_in, unit_list


@dataclass(frozen=True, kw_only=True)
class ShiftSheet:
    """State alone and no value; `being_made` are the beds of cleared checks whose record is not made yet.

    `names` has who stands in it.
    """

    hospital: str
    listed: UnitList
    being_made: tuple[str, ...]
    checkpoint: Checkpoint | None
    names: Mapping[str, str]


def shift_sheet(site: Site, act: Act) -> ShiftSheet:
    """The sheet of the unit of this shift; whether the person may ask is declared on the route."""
    listed = unit_list(site, act)
    with site.store.read() as reader:
        cleared = [reader.find_check(check) for check, _ in reader.unissued()]
        newest = reader.latest_checkpoint()
        people = reader.people_with(people_in(listed))
        hospital = rules_in_force(reader, act.now).policy.site
    beds = [each.bed for each in cleared if each is not None and each.unit == act.by.unit]
    return ShiftSheet(
        hospital=hospital,
        listed=listed,
        being_made=tuple(sorted(beds)),
        checkpoint=newest,
        names={who: each.printed_name for who, each in people.items()},
    )
