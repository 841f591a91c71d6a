"""Where an infusion is now: at the bed at which it was opened, or to which it was moved last.

Nothing beside the log says so: the row of an infusion stays as it was opened.
"""

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Select, bindparam, select

from app.records.canonical import canonical
from app.records.change_events import BedChanged
from app.records.kept import KeptInfusion
from app.storage import tables
from app.storage.questions import holds_in

_INFUSION, _MOVE, _LATER = (
    tables.infusion,
    tables.log_entry.alias("move"),
    tables.log_entry.alias("later_move"),
)
_LAST = (
    _MOVE.c.kind == BedChanged.kind,
    ~select(_LATER.c.position)
    .where(
        _LATER.c.infusion == _MOVE.c.infusion,
        _LATER.c.kind == BedChanged.kind,
        _LATER.c.position > _MOVE.c.position,
    )
    .exists(),
)
_ITS_LAST = select(_MOVE.c.canonical).where(_MOVE.c.infusion == _INFUSION.c.id, *_LAST)
_CAME = select(_MOVE.c.infusion).where(*_LAST, holds_in(_MOVE.c.canonical, bindparam("named")))

AT_BED = (
    _INFUSION.c.unit == bindparam("unit"),
    ((_INFUSION.c.bed == bindparam("bed")) & ~_ITS_LAST.exists()) | _INFUSION.c.id.in_(_CAME),
)
"""Whether an infusion is at a bed of a unit now; asked with what `at` gives."""

EVER_AT_BED = (
    _INFUSION.c.unit == bindparam("unit"),
    (_INFUSION.c.bed == bindparam("bed"))
    | _INFUSION.c.id.in_(
        select(_MOVE.c.infusion).where(
            _MOVE.c.kind == BedChanged.kind, holds_in(_MOVE.c.canonical, bindparam("named"))
        )
    ),
)
"""Whether it is or was."""


def select_placed() -> Select[Any]:
    """The rows of infusions, and beside each the entry that moved it last: what `placed` reads."""
    return select(_INFUSION, _ITS_LAST.limit(1).scalar_subquery().label("moved"))


def at(unit: str, bed: str) -> dict[str, object]:
    """The values for what asks of a bed."""
    return {"unit": unit, "bed": bed, "named": canonical({"bed": bed})[1:-1]}


def placed(row: Mapping[str, Any]) -> KeptInfusion:
    """An infusion where it is now."""
    opened = {name: value for name, value in row.items() if name != "moved"}
    if row["moved"] is None:
        return KeptInfusion(**opened)
    return KeptInfusion(**{**opened, "bed": json.loads(row["moved"].decode())["data"]["bed"]})
