"""Who looked at what."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import Connection, bindparam, select

from app.records.kept import Access
from app.storage import rows, tables

# Rows held in memory at a time while streaming.
_STREAM = 1000

_CHECK, _ACCESS = tables.check, tables.access
_LOOK = [column for column in _ACCESS.c if column.name in Access.__dataclass_fields__]
_LOOKS_OF_INFUSION = (
    select(*_LOOK)
    .join(_CHECK, _CHECK.c.id == _ACCESS.c.check)
    .where(_CHECK.c.infusion == bindparam("infusion"))
    .order_by(_ACCESS.c.at)
)


class LookReader:
    """Reads the access table."""

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
