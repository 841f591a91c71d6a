"""Who looked at what, and what runs without a check."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import Connection, bindparam, select

from app.records.events import END_OF_THERAPY, DeviceStopped, StartedWithoutCheck
from app.records.kept import FIRST, SECOND, Access, KeptInfusion
from app.storage import rows, tables
from app.storage.rows import rows_by

# Rows held in memory at a time while streaming.
_STREAM = 1000

_first, _second = tables.signature.alias("first_signature"), tables.signature.alias("second_signature")


_LOG, _INFUSION, _CHECK, _ACCESS = tables.log_entry, tables.infusion, tables.check, tables.access
_CLEARED = (
    select(_CHECK.c.id)
    .join(_first, (_first.c.check == _CHECK.c.id) & (_first.c.slot == FIRST))
    .join(
        _second,
        (_second.c.check == _CHECK.c.id)
        & (_second.c.edition == _first.c.edition)
        & (_second.c.slot == SECOND),
    )
    .where(_CHECK.c.infusion == _INFUSION.c.id)
)
# The entries of infusions that were started without a check, while no check of theirs was cleared.
_UNCHECKED = (
    select(_LOG)
    .join(_INFUSION, _INFUSION.c.id == _LOG.c.infusion)
    .where(_LOG.c.kind == StartedWithoutCheck.kind, ~_CLEARED.exists())
    .order_by(_LOG.c.position)
)
_UNCHECKED_ON_UNIT = _UNCHECKED.where(_INFUSION.c.unit == bindparam("unit"))
_UNCHECKED_INFUSION = _UNCHECKED.where(_INFUSION.c.id == bindparam("infusion"))
_STOPS = rows_by(_LOG, "infusion").where(_LOG.c.kind == DeviceStopped.kind)
_FIND_INFUSION = rows_by(_INFUSION, "id")
_LOOK = [column for column in _ACCESS.c if column.name in Access.__dataclass_fields__]
_LOOKS_OF_INFUSION = (
    select(*_LOOK)
    .join(_CHECK, _CHECK.c.id == _ACCESS.c.check)
    .where(_CHECK.c.infusion == bindparam("infusion"))
    .order_by(_ACCESS.c.at)
)


class LookReader:
    """Reads the access table and the infusions that nobody checked."""

    _connection: Connection

    def accesses_of_infusion(self, infusion: str) -> tuple[Access, ...]:
        """Every look at a check of this infusion, in order."""
        return rows.read_all(self._connection, Access, _LOOKS_OF_INFUSION, infusion=infusion)

    def accesses_between(self, from_: datetime | None, until: datetime) -> Iterator[Access]:
        """Every look from a moment on and before another, as they were written down, in bounded memory."""
        wanted = select(*_LOOK).where(_ACCESS.c.at < until).order_by(_ACCESS.c.position)
        if from_ is not None:
            wanted = wanted.where(_ACCESS.c.at >= from_)
        result = self._connection.execute(wanted, execution_options={"yield_per": _STREAM})
        for some in result.mappings().partitions(_STREAM):
            for row in some:
                yield Access(**row)

    def running_without_check(self, unit: str) -> tuple[tuple[KeptInfusion, str], ...]:
        """Infusions of a unit that run without a check that was cleared, with the reason."""
        entries = rows.entries(self._connection, _UNCHECKED_ON_UNIT, unit=unit)
        return tuple(
            (self._infusion(each.infusion), each.event.reason)
            for each in entries
            if isinstance(each.event, StartedWithoutCheck) and not self._has_ended(each.infusion)
        )

    def runs_without_check(self, infusion: str) -> bool:
        """Whether it was started without a check, and since then none was cleared and no end recorded."""
        started = rows.entries(self._connection, _UNCHECKED_INFUSION, infusion=infusion)
        return bool(started) and not self._has_ended(infusion)

    def _has_ended(self, infusion: str) -> bool:
        stops = rows.entries(self._connection, _STOPS, infusion=infusion)
        happened = [each.event for each in stops]
        return any(isinstance(each, DeviceStopped) and each.why == END_OF_THERAPY for each in happened)

    def _infusion(self, infusion: str) -> KeptInfusion:
        found = rows.find_one(self._connection, KeptInfusion, _FIND_INFUSION, id=infusion)
        assert found is not None  # noqa: S101  # the log's foreign key holds it
        return found
