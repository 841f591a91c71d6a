"""The settings that the rules rest on, read back from connections of the pool."""

from pathlib import Path

import pytest
from sqlalchemy import Engine, text

from app.storage import Store, migrate, open_store
from app.storage.engine import SQLITE_PRAGMAS
from app.storage.engine import database_url as with_driver
from tests.storage import builders as build


def test_sqlite_pragmas_hold_on_pooled_connections(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    with store.write() as tx:
        build.add_ward(tx)
    for _ in range(3):
        with store.read():
            pass
    with store._engine.connect() as one, store._engine.connect() as two:  # noqa: SLF001  # its pool is looked at
        with store._reading.connect() as reading:  # noqa: SLF001  # and the other
            assert reading.exec_driver_sql("PRAGMA query_only").scalar() == 1
        for connection in (one, two):
            found = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in SQLITE_PRAGMAS}
            assert found == {
                "busy_timeout": 30_000,
                "journal_mode": "wal",
                "synchronous": 2,
                "foreign_keys": 1,
                "recursive_triggers": 1,
            }
            assert connection.exec_driver_sql("PRAGMA query_only").scalar() == 0
    store.close()


def test_a_postgresql_transaction_reads_what_is_committed_and_waits_for_locks(postgresql_url: str) -> None:
    store = open_store(postgresql_url)
    wanted = ("transaction_isolation", "transaction_read_only", "lock_timeout", "TimeZone")
    with store.write() as tx:
        found = {name: tx._connection.scalar(text(f"SHOW {name}")) for name in wanted}  # noqa: SLF001  # looked at
    assert found == {
        "transaction_isolation": "read committed",
        "transaction_read_only": "off",
        "lock_timeout": "30s",
        "TimeZone": "UTC",
    }
    with store.read() as reader:
        found = {name: reader._connection.scalar(text(f"SHOW {name}")) for name in wanted[:2]}  # noqa: SLF001  # as above
    assert found == {"transaction_isolation": "repeatable read", "transaction_read_only": "on"}
    with store.write() as tx:
        # What reading set does not stay with the pooled connection.
        assert tx._connection.scalar(text("SHOW transaction_read_only")) == "off"  # noqa: SLF001  # as above
        assert tx._connection.scalar(text("SHOW transaction_isolation")) == "read committed"  # noqa: SLF001  # as above
    store.close()


@pytest.mark.parametrize("table", ["pdf", "what_followed", "competency_file"])
def test_pdfs_are_not_compressed_again(table: str, postgresql_url: str) -> None:
    store = open_store(postgresql_url)
    storage = text(
        f"SELECT attstorage FROM pg_attribute WHERE attrelid = '{table}'::regclass "  # noqa: S608  # as named
        "AND attname = 'content'"
    )
    with store.read() as reader:
        # 'e' is EXTERNAL.
        assert reader._connection.scalar(storage) in {"e", b"e"}  # noqa: SLF001  # looked at
    store.close()


def test_parameters_are_hidden_and_connections_are_tried_first(store: Store) -> None:
    engine: Engine = store._engine  # noqa: SLF001  # looked at
    assert engine.hide_parameters
    if engine.dialect.name == "postgresql":
        assert engine.pool._pre_ping  # noqa: SLF001  # SQLAlchemy shows it nowhere else


def test_the_database_file_is_private(tmp_path: Path) -> None:
    file = tmp_path / "new folder" / "store.sqlite3"
    migrate(f"sqlite:///{file}")
    assert file.stat().st_mode & 0o777 == 0o600
    store = open_store(f"sqlite:///{file}")
    with store.write() as tx:
        build.add_ward(tx)
        assert file.with_name("store.sqlite3-wal").stat().st_mode & 0o777 == 0o600
    store.close()


def test_every_way_of_writing_a_postgresql_address_takes_our_driver() -> None:
    for scheme in ("postgres", "postgresql", "postgresql+psycopg"):
        assert with_driver(f"{scheme}://localhost/countersign").drivername == "postgresql+psycopg"
