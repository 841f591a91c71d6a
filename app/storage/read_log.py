"""Reading the log."""

from sqlalchemy import Connection, Select, select

from app.records.kept import Entry
from app.storage import rows, tables


class LogReader:
    """The entries of the log, in the order of their positions, which start at 1 and have no gap."""

    _connection: Connection

    def head(self) -> int:
        """How many entries the log has; the position of the last one."""
        size: int = self._connection.execute(select(tables.log_head.c.size)).scalar_one()
        return size

    def entries(self, check: str) -> tuple[Entry, ...]:
        """What happened to a check."""
        return self._read(select(tables.log_entry).where(tables.log_entry.c.check == check))

    def entries_of_infusion(self, infusion: str) -> tuple[Entry, ...]:
        """What happened to an infusion, its checks included."""
        return self._read(select(tables.log_entry).where(tables.log_entry.c.infusion == infusion))

    def log_entries(self, *, after: int, limit: int) -> tuple[Entry, ...]:
        """The next entries after a position; 0 begins at the first."""
        return self._read(select(tables.log_entry).where(tables.log_entry.c.position > after).limit(limit))

    def entries_of_kind(self, kind: str) -> tuple[Entry, ...]:
        """Every entry of one kind of event."""
        return self._read(select(tables.log_entry).where(tables.log_entry.c.kind == kind))

    def find_latest(self, kind: str) -> Entry | None:
        """The last entry of one kind of event."""
        log = tables.log_entry
        its = select(log).where(log.c.kind == kind).order_by(log.c.at.desc(), log.c.position.desc()).limit(1)
        row = self._connection.execute(its).mappings().first()
        return None if row is None else rows.entry(row)

    def _read(self, statement: Select[*tuple[object, ...]]) -> tuple[Entry, ...]:
        ordered = statement.order_by(tables.log_entry.c.position)
        return tuple(rows.entry(row) for row in self._connection.execute(ordered).mappings())
