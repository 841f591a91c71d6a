"""Copies of a whole database: one SQLite file, whichever engine it comes from and whichever it goes to.

So a copy is verified where it lies, without a server, and moves a site from one engine to the other. Nothing
but the program's own tables is in it. A copy is of one moment: of SQLite by its backup of an open file, of
PostgreSQL by one snapshot.
"""

import contextlib
import errno
import json
import os
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from sqlalchemy import Connection, Engine, Table, func, insert, select, text
from sqlalchemy.exc import DBAPIError, OperationalError

from app.records.written import iso
from app.storage import tables
from app.storage.engine import database_url, make_engine, reading_only, sqlite_file
from app.storage.migrate import migrate, upgrade
from app.storage.store import StoreUnavailable, trouble_of

# Rows held in memory at a time.
_ROWS = 200
# Of a file that cannot be written to its end: SQLite tells a full disk and a failing one apart.
_WRITING_FAILED = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR}
_NOT_OWNER = "42501"
_OWNER = "the role does not own the tables: name the one that does in DATABASE_OWNER_URL"


@dataclass(frozen=True, kw_only=True)
class Rows:
    """How many rows a table has, and a digest over them, in whatever order they come."""

    rows: int
    digest: str


@dataclass(frozen=True, kw_only=True)
class Loaded:
    """The database is what the copy is."""


@dataclass(frozen=True, kw_only=True)
class NotLoaded:
    """The database is what it was; `why` says what to do."""

    why: str


def copy_out(address: str, file: Path) -> None:
    """A copy of one moment in a new file; raises StoreUnavailable, or OSError where it cannot be written."""
    source = sqlite_file(database_url(address))
    if source is not None:
        with _writing(file):
            _back_up(source, file)
        return
    with _writing(file):
        migrate(f"sqlite:///{file}")
    with (
        _snapshot(address) as reading,
        _open(f"sqlite:///{file}") as there,
        _writing(file),
        there.connect().execution_options(writing=True) as writing,
        writing.begin(),
        _without_triggers(writing),
    ):
        _pour(reading, writing)


def _back_up(source: Path, file: Path) -> None:
    os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    with (
        contextlib.closing(sqlite3.connect(source)) as here,
        contextlib.closing(sqlite3.connect(file)) as there,
    ):
        # In one go: others write on meanwhile, and what they write is not in it.
        here.backup(there)


def settle(file: Path) -> None:
    """Make it one file, with nothing beside it, that stands on the disk."""
    with _writing(file), contextlib.closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    file.with_name(f"{file.name}.lock").unlink(missing_ok=True)
    _sync(file)
    _sync(file.parent)


def contents(address: str) -> dict[str, Rows]:
    """What each table holds, alike on both engines; raises StoreUnavailable."""
    with _snapshot(address) as connection:
        return _contents(connection)


def load_copy(
    file: Path, address: str, expected: dict[str, Rows], *, program: str = ""
) -> Loaded | NotLoaded:
    """Make an empty database what a settled copy is, or leave it as it is; `program` as for `migrate`.

    Raises StoreUnavailable, or OSError where a file cannot be written.
    """
    target = sqlite_file(database_url(address))
    if target is not None:
        return _load_file(file, target)
    return _load_tables(file, address, expected, program)


def _load_file(file: Path, target: Path) -> Loaded | NotLoaded:
    for each in (target, *(target.with_name(f"{target.name}-{side}") for side in ("wal", "shm", "journal"))):
        if each.exists():
            return NotLoaded(why=f"{each} is there already, and nothing takes its place: move it away first")
    # Never over another, should one have come meanwhile.
    os.link(file, target)
    _sync(target.parent)
    return Loaded()


def _load_tables(file: Path, address: str, expected: dict[str, Rows], program: str) -> Loaded | NotLoaded:
    is_known = True
    with _open(address) as there:
        try:
            with (
                _snapshot(f"sqlite:///{file}") as reading,
                there.connect() as writing,
                writing.begin() as begun,
            ):
                upgrade(writing, program)
                outcome = _fill(writing, reading, expected)
                if isinstance(outcome, Loaded):
                    is_known = False
                    begun.commit()
                else:
                    begun.rollback()
                return outcome
        except OperationalError as error:
            raise StoreUnavailable(outcome_known=is_known, trouble=trouble_of(error)) from error
        except DBAPIError as error:
            if getattr(error.orig, "sqlstate", "") != _NOT_OWNER:
                raise
            return NotLoaded(why=_OWNER)


def _fill(writing: Connection, reading: Connection, expected: dict[str, Rows]) -> Loaded | NotLoaded:
    with _without_triggers(writing):
        if writing.execute(select(tables.log_head.c.size)).scalar():
            return NotLoaded(why="the database holds an installation already: name an empty one")
        _pour(reading, writing)
    _go_on_counting(writing)
    if _contents(writing) != expected:
        return NotLoaded(why="the database did not keep what was written, and holds nothing of it")
    return Loaded()


def _pour(reading: Connection, writing: Connection) -> None:
    """Every row of the program's tables; a table comes after those that it points to."""
    writing.execute(tables.log_head.delete())
    for table in tables.metadata.sorted_tables:
        for some in _streamed(reading, table):
            writing.execute(insert(table), some)


def _streamed(reading: Connection, table: Table) -> Iterator[list[dict[str, object]]]:
    result = reading.execute(select(table), execution_options={"yield_per": _ROWS})
    for some in result.mappings().partitions(_ROWS):
        yield [dict(row) for row in some]


def _contents(connection: Connection) -> dict[str, Rows]:
    return {table.name: _rows(connection, table) for table in tables.metadata.sorted_tables}


def _rows(connection: Connection, table: Table) -> Rows:
    number, added = 0, 0
    for some in _streamed(connection, table):
        number += len(some)
        added += sum(int.from_bytes(sha256(_written(row)).digest()) for row in some)
    return Rows(rows=number, digest=f"{added % 2**256:064x}")


def _written(row: dict[str, object]) -> bytes:
    return json.dumps(row, default=_plain, sort_keys=True).encode()


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return iso(value)
    if isinstance(value, bytes | memoryview):
        return bytes(value).hex()
    raise TypeError(type(value).__name__)


@contextlib.contextmanager
def _without_triggers(connection: Connection) -> Iterator[None]:
    """What was allowed when it was written is not asked once more, long after what it was allowed by."""
    if connection.dialect.name == "sqlite":
        made = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")).all()
        for name, _ in made:
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        yield
        for _, sql in made:
            connection.exec_driver_sql(sql)
        return
    names = [f'"{table.name}"' for table in tables.metadata.sorted_tables]
    for name in names:
        connection.exec_driver_sql(f"ALTER TABLE {name} DISABLE TRIGGER USER")
    yield
    for name in names:
        connection.exec_driver_sql(f"ALTER TABLE {name} ENABLE TRIGGER USER")


def _go_on_counting(connection: Connection) -> None:
    """Looks are numbered by PostgreSQL, which goes on after the last."""
    last = connection.execute(select(func.max(tables.access.c.position))).scalar()
    if last:
        connection.execute(
            text("SELECT setval(pg_get_serial_sequence('access', 'position'), :last)"), {"last": last}
        )


@contextlib.contextmanager
def _open(address: str) -> Iterator[Engine]:
    engine = make_engine(database_url(address))
    try:
        yield engine
    except OperationalError as error:
        raise StoreUnavailable(outcome_known=True, trouble=trouble_of(error)) from error
    finally:
        engine.dispose()


@contextlib.contextmanager
def _snapshot(address: str) -> Iterator[Connection]:
    """Everything read is of one moment; nothing stays open afterwards."""
    with _open(address) as engine:
        reading = reading_only(engine)
        try:
            with reading.connect() as connection, connection.begin():
                yield connection
        finally:
            reading.dispose()


@contextlib.contextmanager
def _writing(file: Path) -> Iterator[None]:
    """A file that cannot be written to its end is a fault of its disk, and the file is named."""
    try:
        yield
    except (sqlite3.OperationalError, OperationalError, StoreUnavailable) as error:
        # The low byte is the kind; what is above it says more of it.
        if getattr(_from_driver(error), "sqlite_errorcode", 0) & 0xFF in _WRITING_FAILED:
            raise OSError(errno.ENOSPC, "the disk is full, or fails", str(file)) from error
        if isinstance(error, StoreUnavailable):
            raise
        raise StoreUnavailable(outcome_known=True, trouble=trouble_of(error)) from error


def _from_driver(error: BaseException | None) -> BaseException | None:
    """What the driver said, under whatever it was wrapped in."""
    if isinstance(error, StoreUnavailable):
        return _from_driver(error.__cause__)
    return error.orig if isinstance(error, OperationalError) else error


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
