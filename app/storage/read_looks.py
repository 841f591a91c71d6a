"""Who looked at what, and what runs without a check."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, select

from app.records.events import END_OF_THERAPY, DeviceStopped, StartedWithoutCheck
from app.records.kept import FIRST, SECOND, Access, KeptInfusion
from app.storage import rows, tables

# Rows held in memory at a time while streaming.
_STREAM = 1000

_first, _second = tables.signature.alias("first_signature"), tables.signature.alias("second_signature")


def _started_unchecked() -> Select[Any]:
    """The entries of infusions that were started without a check, while no check of theirs was cleared."""
    log, infusion, check = tables.log_entry, tables.infusion, tables.check
    cleared = (
        select(check.c.id)
        .join(_first, (_first.c.check == check.c.id) & (_first.c.slot == FIRST))
        .join(
            _second,
            (_second.c.check == check.c.id)
            & (_second.c.edition == _first.c.edition)
            & (_second.c.slot == SECOND),
        )
        .where(check.c.infusion == infusion.c.id)
    )
    return (
        select(log)
        .join(infusion, infusion.c.id == log.c.infusion)
        .where(log.c.kind == StartedWithoutCheck.kind, ~cleared.exists())
        .order_by(log.c.position)
    )


class LookReader:
    """Reads the access table and the infusions that nobody checked."""

    _connection: Connection

    def accesses_of_infusion(self, infusion: str) -> tuple[Access, ...]:
        """Every look at a check of this infusion, in order."""
        wanted = (
            select(tables.access)
            .join(tables.check, tables.check.c.id == tables.access.c.check)
            .where(tables.check.c.infusion == infusion)
            .order_by(tables.access.c.at)
        )
        kept = [column for column in tables.access.c if column.name in Access.__dataclass_fields__]
        return rows.read_all(self._connection, Access, wanted.with_only_columns(*kept))

    def accesses_between(self, from_: datetime | None, until: datetime) -> Iterator[Access]:
        """Every look from a moment on and before another, as they were written down, in bounded memory."""
        table = tables.access
        kept = [column for column in table.c if column.name in Access.__dataclass_fields__]
        wanted = select(*kept).where(table.c.at < until).order_by(table.c.position)
        if from_ is not None:
            wanted = wanted.where(table.c.at >= from_)
        result = self._connection.execute(wanted, execution_options={"yield_per": _STREAM})
        for some in result.mappings().partitions(_STREAM):
            for row in some:
                yield Access(**row)

    def running_without_check(self, unit: str) -> tuple[tuple[KeptInfusion, str], ...]:
        """Infusions of a unit that run without a check that was cleared, with the reason."""
        here = _started_unchecked().where(tables.infusion.c.unit == unit)
        entries = [rows.entry(row) for row in self._connection.execute(here).mappings()]
        return tuple(
            (self._infusion(each.infusion), each.event.reason)
            for each in entries
            if isinstance(each.event, StartedWithoutCheck) and not self._has_ended(each.infusion)
        )

    def runs_without_check(self, infusion: str) -> bool:
        """Whether it was started without a check, and since then none was cleared and no end recorded."""
        its = _started_unchecked().where(tables.infusion.c.id == infusion)
        return self._connection.execute(its).first() is not None and not self._has_ended(infusion)

    def _has_ended(self, infusion: str) -> bool:
        log = tables.log_entry
        stops = select(log).where(log.c.infusion == infusion, log.c.kind == DeviceStopped.kind)
        happened = [rows.entry(row).event for row in self._connection.execute(stops).mappings()]
        return any(isinstance(each, DeviceStopped) and each.why == END_OF_THERAPY for each in happened)

    def _infusion(self, infusion: str) -> KeptInfusion:
        found = rows.find_one(
            self._connection, KeptInfusion, select(tables.infusion).where(tables.infusion.c.id == infusion)
        )
        assert found is not None  # noqa: S101  # the log's foreign key holds it
        return found
