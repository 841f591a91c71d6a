"""Who looked at what."""

from collections.abc import Collection, Iterator
from datetime import datetime

from sqlalchemy import Connection, bindparam, func, select

from app.records.kept import Access
from app.storage import rows, tables

# Rows held in memory at a time while streaming.
_STREAM = 1000

_CHECK, _ACCESS = tables.check, tables.access
_LOOK = [column for column in _ACCESS.c if column.name in Access.__dataclass_fields__]
_LOOKS_OF_PEOPLE = (
    select(*_LOOK)
    .where(_ACCESS.c.person.in_(bindparam("people", expanding=True)), _ACCESS.c.what == bindparam("what"))
    .order_by(_ACCESS.c.at)
)
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

    def looks_of_people(self, people: Collection[str], what: str) -> tuple[Access, ...]:
        """Every look of some people at one thing, in order."""
        return rows.read_all(self._connection, Access, _LOOKS_OF_PEOPLE, people=list(people), what=what)

    def last_access_before(self, moment: datetime) -> int:
        """The last place of a look that was before a moment; 0 where none was."""
        last = self._connection.scalar(select(func.max(_ACCESS.c.position)).where(_ACCESS.c.at < moment))
        return last or 0

    def accesses_between(self, after: int, up_to: int) -> Iterator[Access]:
        """Every look after a place of the list and up to another, in its order, in bounded memory."""
        wanted = (
            select(*_LOOK)
            .where(_ACCESS.c.position > after, _ACCESS.c.position <= up_to)
            .order_by(_ACCESS.c.position)
        )
        result = self._connection.execute(wanted, execution_options={"yield_per": _STREAM})
        for some in result.mappings().partitions(_STREAM):
            for row in some:
                yield Access(**row)
