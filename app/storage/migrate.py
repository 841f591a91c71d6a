"""Bringing a database to the schema of this version, and whether it is there."""

import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from enum import Enum
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, select, text
from sqlalchemy.exc import DBAPIError, OperationalError, ProgrammingError

from app.config import WrongSettingError, root
from app.storage import row_tables, tables, triggers
from app.storage.engine import database_url, make_engine, sqlite_file
from app.storage.grants import grants, set_up
from app.storage.queue import file_lock
from app.storage.store import StoreUnavailable, is_out_of_reach, trouble_of

# Any number will do, as long as every process asks for the same.
_ADVISORY_LOCK = 7_283_001
_HAS_ROLE = text("SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = :role)")


class Schema(Enum):
    """How the tables of a database stand to this version of the program."""

    NONE = "none"
    OLDER = "older"
    CURRENT = "current"
    NEWER = "newer"
    # The role may not read it.
    CLOSED = "closed"


def find_schema(address: str) -> Schema:
    """How a database stands; it makes none. Raises StoreUnavailable."""
    file = sqlite_file(database_url(address))
    if file is not None and not file.exists():
        return Schema.NONE
    with _looking(address) as connection:
        try:
            return _schema_of(connection)
        except ProgrammingError as error:
            if is_out_of_reach(error):
                return Schema.CLOSED
            raise


def sqlite_path(address: str) -> Path | None:
    """The file of an SQLite database; None for PostgreSQL."""
    return sqlite_file(database_url(address))


def is_empty(address: str) -> bool:
    """Whether nothing ever happened in a database, or there is none yet. Raises StoreUnavailable."""
    if find_schema(address) is Schema.NONE:
        return True
    with _looking(address) as connection:
        return not connection.execute(select(tables.log_head.c.size)).scalar()


def _schema_of(connection: Connection) -> Schema:
    script = ScriptDirectory.from_config(alembic_config())
    stands = MigrationContext.configure(connection).get_current_revision()
    if stands is None:
        return Schema.NONE
    if stands == script.get_current_head():
        return Schema.CURRENT
    known = {each.revision for each in script.walk_revisions()}
    return Schema.OLDER if stands in known else Schema.NEWER


@contextmanager
def _looking(address: str) -> Iterator[Connection]:
    engine = make_engine(database_url(address))
    try:
        with engine.connect() as connection:
            yield connection
    except DBAPIError as error:
        raise StoreUnavailable(outcome_known=True, trouble=trouble_of(error)) from error
    finally:
        engine.dispose()


def alembic_config() -> Config:
    """Alembic's configuration, made here so that it needs no file and no working folder."""
    config = Config()
    config.set_main_option("script_location", str(root() / "migrations").replace("%", "%%"))
    return config


def roles_for(*, owner: str, program: str) -> str | None:
    """The SQL that sets up a server for the roles of two addresses; None for SQLite, blank for one role."""
    url, its = database_url(program), database_url(owner or program)
    if sqlite_file(url) is not None:
        return None
    if not url.username or not its.username or url.username == its.username:
        return ""
    return set_up(owner=its.username, program=url.username, database=str(url.database))


def migrate(address: str, *, program: str = "") -> None:
    """Bring the database at an address up to date; two processes that try at once follow each other.

    The role of the address `program` is given its rights, where it is another. All or nothing; raises
    StoreUnavailable, or OSError where the file's folder cannot be written.
    """
    with _altering(address) as connection:
        upgrade(connection, program)


def empty_flat_rows(address: str, *, program: str = "") -> None:
    """Take the flat rows away, so that they can be made again: they follow from the rest. Raises as above.

    No row of a table that is append-only goes: the tables themselves do, which only their owner can do.
    """
    with _altering(address) as connection:
        tables.metadata.drop_all(connection, row_tables.FLAT_ROWS)
        tables.metadata.create_all(connection, row_tables.FLAT_ROWS)
        triggers.create(connection, [triggers.append_only(each.name) for each in row_tables.FLAT_ROWS])
        _give_rights(connection, program)


@contextmanager
def _altering(address: str) -> Iterator[Connection]:
    """One transaction that changes tables, while nobody else does."""
    url = database_url(address)
    with _alone(sqlite_file(url)):
        engine = make_engine(url)
        try:
            with engine.connect() as connection:
                connection.execution_options(writing=True)
                with connection.begin():
                    yield connection
        except OperationalError as error:
            raise StoreUnavailable(outcome_known=True, trouble=trouble_of(error)) from error
        finally:
            engine.dispose()


def upgrade(connection: Connection, program: str = "") -> None:
    """The same within a transaction that has begun, and that may still be undone."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})")
    config = alembic_config()
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    _give_rights(connection, program)


def _give_rights(connection: Connection, program: str) -> None:
    role = database_url(program).username if program else None
    if not role or role == connection.engine.url.username:
        return
    if not connection.scalar(_HAS_ROLE, {"role": role}):
        how = "the server has no role of this name: run what `countersign roles` prints"
        raise WrongSettingError("DATABASE_URL", how)
    for statement in grants(role):
        connection.exec_driver_sql(statement)


def _alone(file: Path | None) -> AbstractContextManager[None]:
    if file is None:
        return nullcontext()
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Made here so that nobody but its owner can read it; SQLite gives its side files the same rights.
    os.close(os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
    return file_lock(file.with_name(file.name + ".lock"))
