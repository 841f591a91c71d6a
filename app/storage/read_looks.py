"""Who looked at what, and what runs without a check."""

from sqlalchemy import Connection, select

from app.records.events import StartedWithoutCheck
from app.records.kept import Access, KeptInfusion
from app.storage import rows, tables


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

    def running_without_check(self, unit: str) -> tuple[tuple[KeptInfusion, str], ...]:
        """Infusions of a unit that were started without a check and have none since, with the reason."""
        log = tables.log_entry
        checked = select(tables.check.c.id).where(tables.check.c.infusion == tables.infusion.c.id)
        wanted = (
            select(log)
            .join(tables.infusion, tables.infusion.c.id == log.c.infusion)
            .where(log.c.kind == StartedWithoutCheck.kind, tables.infusion.c.unit == unit, ~checked.exists())
            .order_by(log.c.position)
        )
        entries = [rows.entry(row) for row in self._connection.execute(wanted).mappings()]
        return tuple(
            (self._infusion(each.infusion), each.event.reason)
            for each in entries
            if isinstance(each.event, StartedWithoutCheck)
        )

    def _infusion(self, infusion: str) -> KeptInfusion:
        found = rows.find_one(
            self._connection, KeptInfusion, select(tables.infusion).where(tables.infusion.c.id == infusion)
        )
        assert found is not None  # noqa: S101  # the log's foreign key holds it
        return found
