"""A store on each engine, and a way past it: plain SQL with the same connection settings."""

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from app.storage import Store, open_store, tables
from app.storage.engine import database_url as with_driver
from app.storage.engine import make_engine
from tests.storage.builders import add_joined_check, add_ward, fill
from tests.support.postgresql import Cluster


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
def filled_anew(store: Store, sql: Engine) -> Engine:
    """Plain SQL on a database of the test's own, with at least one row in every table."""
    return _filled(store, sql)


@pytest.fixture(params=["sqlite", "postgresql"])
def filled(request: pytest.FixtureRequest) -> Engine:
    """The same for all tests of a file, which leave every table as it is; once on each engine."""
    shared: Engine = request.getfixturevalue(f"filled_{request.param}")
    return shared


@pytest.fixture(scope="module")
def filled_sqlite(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """The same on SQLite alone, for what only SQLite can be asked."""
    path = tmp_path_factory.mktemp("filled") / "countersign.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    yield from _filled_at(f"sqlite:///{path}")


@pytest.fixture(scope="module")
def filled_postgresql(postgresql: Cluster, _migrated_postgresql: str) -> Iterator[Engine]:
    """The same on PostgreSQL alone."""
    name = f"filled_{secrets.token_hex(6)}"
    postgresql.create(name, template=_migrated_postgresql)
    yield from _filled_at(postgresql.url(name))
    postgresql.drop(name)


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
