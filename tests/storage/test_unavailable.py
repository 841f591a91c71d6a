# ruff: noqa: PT012, S608  # what fails is a whole transaction; a statement of our own
"""A database that is out of reach, full or busy: nothing half written, and an honest answer."""

import threading
from pathlib import Path

import pytest
from sqlalchemy import event

from app.storage import Store, StoreUnavailable, open_store
from app.storage.engine import database_url as with_driver
from app.storage.engine import make_engine
from app.storage.queue import WriterGate
from tests.storage import builders as build
from tests.storage.conftest import engine_of


def _cut_all_others(address: str) -> None:
    """Ends every other connection to the database, as a restart of the server would."""
    others = "datname = current_database() AND pid <> pg_backend_pid()"
    with engine_of(address) as engine, engine.connect() as connection:
        connection.exec_driver_sql(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE {others}")


def test_out_of_reach(tmp_path: Path) -> None:
    for address in (
        f"sqlite:///{tmp_path}/no folder/store.sqlite3",
        f"postgresql://nobody@/none?host={tmp_path}",
    ):
        store = open_store(address)
        with pytest.raises(StoreUnavailable) as problem, store.read() as reader:
            reader.units()
        assert problem.value.outcome_known


def test_a_connection_that_broke_is_replaced(postgresql_url: str) -> None:
    """The pool tries a connection before it hands it out."""
    store = open_store(postgresql_url)
    with store.read() as reader:
        reader.units()
    _cut_all_others(postgresql_url)
    with store.write() as tx:
        build.add_ward(tx)
    store.close()


def test_a_connection_that_breaks_in_the_middle_leaves_nothing(postgresql_url: str) -> None:
    store = open_store(postgresql_url)
    with pytest.raises(StoreUnavailable) as problem, store.write() as tx:
        build.add_ward(tx)
        _cut_all_others(postgresql_url)
        tx.units()
    assert problem.value.outcome_known
    with store.read() as reader:
        assert reader.units() == ()
    store.close()


def test_when_the_connection_breaks_while_committing_the_outcome_is_not_known(postgresql_url: str) -> None:
    store = open_store(postgresql_url)

    def cut(_connection: object) -> None:
        _cut_all_others(postgresql_url)

    event.listen(store._engine, "commit", cut)  # noqa: SLF001  # the wire is cut just before the word is sent
    with pytest.raises(StoreUnavailable) as problem, store.write() as tx:
        build.add_ward(tx)
    assert not problem.value.outcome_known
    assert "not known" in str(problem.value)
    event.remove(store._engine, "commit", cut)  # noqa: SLF001  # and mended
    with store.write() as tx:
        build.add_ward(tx)
    store.close()


def test_a_full_disk_leaves_nothing(sqlite_url: str) -> None:
    """SQLite's own limit on pages stands in for the disk's."""
    store = open_store(sqlite_url)
    with store.write() as tx:
        build.add_ward(tx)
        build.add_joined_check(tx)
    with pytest.raises(StoreUnavailable), store.write() as tx:
        pages = tx._connection.exec_driver_sql("PRAGMA page_count").scalar()  # noqa: SLF001  # the disk is made small
        tx._connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")  # noqa: SLF001  # as above
        for number in range(1, 100):
            tx.add_reading(build.reading(round=number))
    store.close()
    again = open_store(sqlite_url)
    with again.write() as tx:
        assert tx.readings("check-1") == ()
        tx.add_reading(build.reading())
    again.close()


def test_a_writer_whose_turn_does_not_come_is_told(sqlite_url: str) -> None:
    url = with_driver(sqlite_url)
    store = Store(make_engine(url), WriterGate(Path(str(url.database)), patience=0.05))
    problems: list[StoreUnavailable] = []

    def write() -> None:
        try:
            with store.write():
                pass
        except StoreUnavailable as problem:
            problems.append(problem)

    with store.write():
        other = threading.Thread(target=write)
        other.start()
        other.join(10)
    assert [problem.outcome_known for problem in problems] == [True]
    store.close()
