"""A store on each engine, and a way past it: plain SQL with the same connection settings."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import Engine, select

from app.storage import Store, open_store, tables
from app.storage.engine import database_url as with_driver
from app.storage.engine import make_engine
from tests.storage.builders import add_joined_check, add_ward, fill


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    opened = open_store(database_url)
    yield opened
    opened.close()


@pytest.fixture
def ward(store: Store) -> Store:
    """The store, with a unit, four people and one check that the first two have joined."""
    with store.write() as tx:
        add_ward(tx)
        add_joined_check(tx)
    return store


@contextmanager
def engine_of(address: str) -> Iterator[Engine]:
    """An engine for plain SQL, with the settings of a store."""
    engine = make_engine(with_driver(address))
    try:
        yield engine
    finally:
        engine.dispose()


@pytest.fixture
def sql(database_url: str) -> Iterator[Engine]:
    """An engine for plain SQL on the database of `store`."""
    with engine_of(database_url) as engine:
        yield engine


@pytest.fixture
def filled(store: Store, sql: Engine) -> Engine:
    """Plain SQL on a database with at least one row in every table."""
    return _filled(store, sql)


@pytest.fixture
def filled_sqlite(sqlite_url: str) -> Iterator[Engine]:
    """The same on SQLite alone, for what only SQLite can be asked."""
    yield from _filled_at(sqlite_url)


@pytest.fixture
def filled_postgresql(postgresql_url: str) -> Iterator[Engine]:
    """The same on PostgreSQL alone."""
    yield from _filled_at(postgresql_url)


def _filled_at(address: str) -> Iterator[Engine]:
    opened = open_store(address)
    with engine_of(address) as engine:
        yield _filled(opened, engine)
    opened.close()


def _filled(store: Store, engine: Engine) -> Engine:
    fill(store)
    with engine.connect() as connection:
        empty = [
            name
            for name, table in tables.metadata.tables.items()
            if connection.execute(select(table)).first() is None
        ]
    assert not empty, f"an attack on an empty table proves nothing: {empty}"
    return engine
