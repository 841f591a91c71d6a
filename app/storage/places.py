"""Where an infusion is now: where it was opened, or to which it was moved last.

Nothing beside the log says so: the row of an infusion stays as it was opened. One that was taken from another
unit is found where it was, too, until two have checked it.
"""

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Select, and_, bindparam, func, select

from app.records.canonical import canonical
from app.records.change_events import BedChanged, PatientTaken
from app.records.course_kinds import CHECKED_BY_TWO
from app.records.kept import KeptInfusion
from app.storage import tables
from app.storage.questions import holds_in

_INFUSION, _MOVE, _LATER = (
    tables.infusion,
    tables.log_entry.alias("move"),
    tables.log_entry.alias("later_move"),
)
_MOVES = (BedChanged.kind, PatientTaken.kind)


def _last(kinds: tuple[str, ...], *, among: tuple[str, ...]) -> Any:  # noqa: ANN401  # a condition
    """Whether a move is of these kinds, and none of `among` is after it."""
    after = select(_LATER.c.position).where(
        _LATER.c.infusion == _MOVE.c.infusion,
        _LATER.c.kind.in_(among),
        _LATER.c.position > _MOVE.c.position,
    )
    return and_(_MOVE.c.kind.in_(kinds), ~after.exists())


def _holding(*named: str) -> Any:  # noqa: ANN401  # a condition
    return and_(*(holds_in(_MOVE.c.canonical, bindparam(each)) for each in named))


_ITS_LAST = select(_MOVE.c.canonical).where(_MOVE.c.infusion == _INFUSION.c.id, _last(_MOVES, among=_MOVES))
_OPENED_AT = (_INFUSION.c.unit == bindparam("unit")) & (_INFUSION.c.bed == bindparam("bed"))
_CAME = select(_MOVE.c.infusion).where(_last(_MOVES, among=_MOVES), _holding("to_unit", "to_bed"))
_EVER_CAME = select(_MOVE.c.infusion).where(_MOVE.c.kind.in_(_MOVES), _holding("to_unit", "to_bed"))
_LEFT_UNCHECKED = select(_MOVE.c.infusion).where(
    _last((PatientTaken.kind,), among=(PatientTaken.kind, *CHECKED_BY_TWO)),
    _holding("from_unit", "from_bed"),
)

_CAME_AT = select(_MOVE.c.at).where(_MOVE.c.infusion == _INFUSION.c.id, _last(_MOVES, among=_MOVES)).limit(1)

LAST_TO_COME_FIRST = (
    func.coalesce(_CAME_AT.scalar_subquery(), _INFUSION.c.opened_at).desc(),
    _INFUSION.c.opened_at.desc(),
    _INFUSION.c.id.desc(),
)
"""The infusions of a bed in order; one that was moved there came later than it was opened."""

AT_BED = (_OPENED_AT & ~_ITS_LAST.exists()) | _INFUSION.c.id.in_(_CAME)
"""Whether an infusion is at a bed of a unit now; asked with what `at` gives."""

FOUND_AT_BED = AT_BED | _INFUSION.c.id.in_(_LEFT_UNCHECKED)
"""The same with those that another unit took from there, and that no two have checked since."""

EVER_AT_BED = _OPENED_AT | _INFUSION.c.id.in_(_EVER_CAME)
"""Whether it is or was."""


def select_placed() -> Select[Any]:
    """The rows of infusions, and beside each the entry that moved it last: what `placed` reads."""
    return select(_INFUSION, _ITS_LAST.limit(1).scalar_subquery().label("moved"))


def at(unit: str, bed: str) -> dict[str, object]:
    """The values for what asks of a bed."""
    named = {"to_unit": "unit", "to_bed": "bed", "from_unit": "before_unit", "from_bed": "before"}
    place = {"unit": unit, "bed": bed, "before_unit": unit, "before": bed}
    return {"unit": unit, "bed": bed} | {
        key: canonical({field: place[field]})[1:-1] for key, field in named.items()
    }


def placed(row: Mapping[str, Any]) -> KeptInfusion:
    """An infusion where it is now."""
    opened = {name: value for name, value in row.items() if name != "moved"}
    if row["moved"] is None:
        return KeptInfusion(**opened)
    moved = json.loads(row["moved"].decode())["data"]
    return KeptInfusion(**{**opened, "unit": moved["unit"], "bed": moved["bed"]})
