"""One engine for a database address, with the settings that the rules rest on."""

import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from app.config import WrongSettingError

# Seconds that anything waits for a lock before it gives up with nothing written.
PATIENCE = 30
_SETTING = "DATABASE_URL"

SQLITE_PRAGMAS = {
    # First, so that switching to WAL already waits for others.
    "busy_timeout": PATIENCE * 1000,
    "journal_mode": "wal",
    # FULL: in WAL mode NORMAL may lose the last commits when the power fails.
    "synchronous": 2,
    "foreign_keys": 1,
    # Without it INSERT OR REPLACE removes a row and no trigger hears of it.
    "recursive_triggers": 1,
}


def database_url(address: str) -> URL:
    """The address with the driver we use; refuses an in-memory SQLite, where no two connections meet."""
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        # Its own words may repeat a password.
        raise WrongSettingError(_SETTING, "it is no address of a database") from None
    if url.drivername in {"postgres", "postgresql"}:
        return url.set(drivername="postgresql+psycopg")
    if url.get_backend_name() == "sqlite" and (url.host or url.database in {None, "", ":memory:"}):
        raise WrongSettingError(_SETTING, "the SQLite database must be a file: write sqlite:///FILE")
    if url.get_backend_name() not in {"sqlite", "postgresql"}:
        raise WrongSettingError(_SETTING, "the database must be SQLite or PostgreSQL")
    return url


def sqlite_file(url: URL) -> Path | None:
    """The file of an SQLite database, None for PostgreSQL."""
    return Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None


def make_engine(url: URL) -> Engine:
    """An engine whose errors never carry parameters, because errors end up in logs."""
    if url.get_backend_name() == "sqlite":
        return _sqlite(url, SQLITE_PRAGMAS, _begin)
    return create_engine(
        url,
        hide_parameters=True,
        pool_pre_ping=True,
        pool_timeout=PATIENCE,
        isolation_level="READ COMMITTED",
        connect_args={"options": f"-c timezone=UTC -c lock_timeout={PATIENCE}s"},
    )


def reading_only(engine: Engine) -> Engine:
    """The same database through connections that cannot write, each transaction a snapshot of one moment."""
    if engine.dialect.name == "sqlite":
        return _sqlite(engine.url, {**SQLITE_PRAGMAS, "query_only": 1}, _begin_reading)
    return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)


def moment_of(connection: Connection) -> str:
    """What others need to see the moment that this reader sees; on SQLite they begin while nobody writes."""
    if connection.dialect.name == "postgresql":
        return str(connection.exec_driver_sql("SELECT pg_export_snapshot()").scalar_one())
    _look(connection)
    return ""


def join_moment(connection: Connection, moment: str) -> None:
    """See what the reader sees whose `moment` it is."""
    if connection.dialect.name == "postgresql":
        # From PostgreSQL itself, which takes no parameter here.
        connection.exec_driver_sql(f"SET TRANSACTION SNAPSHOT '{moment}'")
    else:
        _look(connection)


def _look(connection: Connection) -> None:
    # A transaction of SQLite sees the moment of its first look.
    connection.exec_driver_sql("SELECT 1 FROM sqlite_schema LIMIT 1").fetchall()


def _sqlite(url: URL, pragmas: Mapping[str, object], begin: Callable[[Connection], None]) -> Engine:
    engine = create_engine(url, hide_parameters=True, pool_timeout=PATIENCE, max_overflow=20)

    def set_up(connection: sqlite3.Connection, _record: Any) -> None:  # noqa: ANN401  # SQLAlchemy's pool record
        # The driver would begin transactions of its own, deferred ones, and commit around schema changes.
        connection.isolation_level = None
        for name, value in pragmas.items():
            connection.execute(f"PRAGMA {name} = {value}")

    event.listen(engine, "connect", set_up)
    event.listen(engine, "begin", begin)
    return engine


def _begin(connection: Connection) -> None:
    # A deferred BEGIN that writes later fails at once when another has written meanwhile.
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _begin_reading(connection: Connection) -> None:
    # Past SQLAlchemy, which takes as long over it as over a statement; it touches no file, so it cannot fail.
    connection.connection.cursor().execute("BEGIN")
