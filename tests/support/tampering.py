"""What an administrator of the database can do: anything, once the triggers are out of the way."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, text

from app.storage.engine import database_url, make_engine


@contextmanager
def as_database_administrator(address: str) -> Iterator[Connection]:
    """Plain SQL that no trigger and no foreign key hinders."""
    engine = make_engine(database_url(address))
    try:
        with engine.connect() as connection:
            connection.execution_options(writing=True)
            if connection.dialect.name == "sqlite":
                # Before any transaction: inside one SQLite ignores it.
                connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
            _drop_triggers(connection)
            yield connection
            connection.commit()
    finally:
        engine.dispose()


def _drop_triggers(connection: Connection) -> None:
    if connection.dialect.name == "postgresql":
        # Also switches foreign keys off, for this session.
        connection.execute(text("SET session_replication_role = replica"))
        return
    names = connection.scalars(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).all()
    for name in names:
        connection.execute(text(f"DROP TRIGGER {name}"))
