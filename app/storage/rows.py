"""From rows to what `app.records` calls them."""

import json
from collections.abc import Iterator
from dataclasses import fields
from functools import lru_cache
from typing import Any, TypeVar

from sqlalchemy import Connection, Executable, RowMapping, Select, Table, bindparam, select

from app.records.events import Event
from app.records.formats import LOG_ENTRY
from app.records.kept import Entry
from app.records.written import from_data

Kept = TypeVar("Kept")
# Of some hundred checks, which is more than are open at once.
_EVENTS = 8192


def rows_by(table: Table, *columns: str) -> Select[Any]:
    """The rows of a table that have, in these columns, what is given under their names when it is run.

    To be made once, at import: making a statement takes longer than running it.
    """
    return select(table).where(*(table.c[name] == bindparam(name) for name in columns))


def found(connection: Connection, statement: Executable, **values: object) -> Iterator[dict[str, Any]]:
    """The rows of a statement by the names of their columns, all of them fetched."""
    result = connection.execute(statement, values)
    names = tuple(result.keys())
    return (dict(zip(names, row, strict=True)) for row in result.all())


def find_one(
    connection: Connection, kind: type[Kept], statement: Executable, **values: object
) -> Kept | None:
    """The first row as `kind`, whose fields are columns of the statement."""
    row = next(found(connection, statement, **values), None)
    return None if row is None else kind(**row)


def read_all(
    connection: Connection, kind: type[Kept], statement: Executable, **values: object
) -> tuple[Kept, ...]:
    """All rows as `kind`."""
    return tuple(kind(**row) for row in found(connection, statement, **values))


def as_row(kept: Any, table: Table) -> dict[str, Any]:  # noqa: ANN401  # any kept dataclass
    """The fields that are columns of the table."""
    return {each.name: getattr(kept, each.name) for each in fields(kept) if each.name in table.c}


def entries(connection: Connection, statement: Executable, **values: object) -> tuple[Entry, ...]:
    """All rows of the log."""
    return tuple(entry(**row) for row in found(connection, statement, **values))


def entry(*, kind: str, canonical: bytes, **columns: Any) -> Entry:  # noqa: ANN401  # the other columns
    """The log entry; its event is read from the canonical bytes, the only place where it is kept."""
    return Entry(event=_event(kind, canonical), canonical=canonical, **columns)


# Each load of a check reads all its entries, of which few are new. Told apart by the bytes themselves: what
# somebody changed in the database is never taken for what stood there.
@lru_cache(maxsize=_EVENTS)
def _event(kind: str, canonical: bytes) -> Event:
    # Text is read in two thirds of the time that the same bytes take.
    written = json.loads(canonical.decode())
    LOG_ENTRY.version_of(written)
    return from_data(kind, written["data"])


def part(row: RowMapping, kind: type[Kept], table: Table, prefix: str) -> Kept:
    """One of several things in a row, whose columns were labelled with a prefix."""
    return kind(**{column.name: row[prefix + column.name] for column in table.c})
