"""Call a unit otherwise: one more name, and every record keeps the one of its moment."""

import unicodedata
from dataclasses import dataclass
from datetime import datetime

from app.people import folded
from app.records.events import UnitNamed
from app.records.names import names_in_log
from app.site.installation import Site
from app.storage import ConstraintBroken
from app.workflow.refusals import NoSuchUnit

# As in the file of units.
LONGEST_NAME = 60


@dataclass(frozen=True, kw_only=True)
class UnitRenamed:
    """The unit is called so: from now on, or already."""

    name: str


@dataclass(frozen=True)
class NotAName:
    """A unit's name is a word or more, of signs that can be printed."""


@dataclass(frozen=True)
class NameTaken:
    """Another unit is called so, however it is written."""


def rename_unit(
    site: Site, now: datetime, *, by: str, unit: str, name: str
) -> UnitRenamed | NotAName | NameTaken | NoSuchUnit:
    """Call a unit otherwise from now on; a name that another has given up is free again."""
    called = name.strip()
    if not folded(called) or len(called) > LONGEST_NAME or not _is_printed(called):
        return NotAName()
    with site.store.write() as tx:
        known = tx.find_unit(unit)
        if known is None:
            return NoSuchUnit()
        if known.name == called:
            return UnitRenamed(name=called)
        try:
            tx.rename_unit(unit, called, now)
        except ConstraintBroken as broken:
            if broken.name != "unit_name_taken":
                raise
            return tx.refuse(NameTaken())
        if names_in_log(tx.naming_entries()).find_unit(unit, tx.head()) is None:
            # The log's first word on a name holds before it too.
            tx.append(UnitNamed(unit=unit, name=known.name), at=now)
        tx.append(UnitNamed(unit=unit, name=called), at=now, by=by)
    return UnitRenamed(name=called)


def _is_printed(name: str) -> bool:
    return not any(unicodedata.category(sign).startswith("C") for sign in name)
