# ruff: noqa: PT012  # what is refused is a whole transaction
"""One transaction an action: all of it or nothing, committed once, and reading never writes."""

import threading
from pathlib import Path

import pytest
from sqlalchemy import event, insert
from sqlalchemy.exc import DBAPIError

from app.records.kept import Access, Unit
from app.storage import ConstraintBroken, Store, open_store, unit_tables
from app.storage.store import NestedTransaction
from app.storage.writer import LockedOutOfOrder, SpentTransaction
from tests.storage import builders as build


class MachineLostError(Exception):
    """What a test throws in the middle of an action."""


def test_a_clean_exit_commits_once(store: Store) -> None:
    commits: list[object] = []
    event.listen(store._engine, "commit", commits.append)  # noqa: SLF001  # the store's own engine is looked at
    with store.write() as tx:
        build.add_ward(tx)
        build.add_joined_check(tx)
        tx.append(build.open_event(), act=build.act(), check="check-1")
    assert len(commits) == 1
    with store.read() as reader:
        assert reader.find_check("check-1") == build.check()


def test_an_exception_leaves_nothing(ward: Store) -> None:
    with pytest.raises(MachineLostError), ward.write() as tx:
        tx.add_reading(build.reading())
        tx.append(build.open_event(), act=build.act(), check="check-1")
        raise MachineLostError
    with ward.read() as reader:
        assert (reader.readings("check-1"), reader.entries("check-1"), reader.head()) == ((), (), 0)


def test_a_refusal_leaves_nothing_and_gives_back_why(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_reading(build.reading())
        assert tx.refuse("not yours") == "not yours"
    with ward.write() as tx:
        tx.add_reading(build.reading())
        assert tx.refuse() is None
    with ward.read() as reader:
        assert reader.readings("check-1") == ()


def test_after_a_broken_constraint_the_transaction_cannot_commit(ward: Store) -> None:
    """On SQLite it could, on PostgreSQL it could not: so that both are alike, neither does."""
    with pytest.raises(SpentTransaction), ward.write() as tx:
        tx.add_reading(build.reading())
        with pytest.raises(ConstraintBroken):
            tx.add_participant(build.participant())
    with ward.read() as reader:
        assert reader.readings("check-1") == ()


def test_after_a_broken_constraint_the_transaction_can_be_refused(ward: Store) -> None:
    with ward.write() as tx:
        with pytest.raises(ConstraintBroken):
            tx.add_participant(build.participant())
        tx.refuse()


def test_the_store_goes_on_after_each_of_these(ward: Store) -> None:
    with pytest.raises(ConstraintBroken), ward.write() as tx:
        tx.add_participant(build.participant())
    with ward.write() as tx:
        tx.add_reading(build.reading())
    with ward.read() as reader:
        assert len(reader.readings("check-1")) == 1


def test_a_transaction_inside_another_is_a_bug(ward: Store) -> None:
    with ward.write(), pytest.raises(NestedTransaction), ward.write():
        pass
    with ward.read(), pytest.raises(NestedTransaction), ward.write():
        pass
    with ward.write() as tx:
        tx.add_reading(build.reading())


def test_reading_cannot_write(ward: Store) -> None:
    with ward.read() as reader, pytest.raises(DBAPIError, match=r"readonly|read-only"):
        row = {"id": "ward-6", "name": "Ward 6", "name_folded": "ward6"}
        reader._connection.execute(insert(unit_tables.unit), row)  # noqa: SLF001  # past the reader
    # The connection, which goes back to the pool, writes again.
    with ward.write() as tx:
        tx.add_unit(Unit(id="ward-6", name="Ward 6"))


def test_everything_read_inside_is_of_one_moment(ward: Store) -> None:
    def hand_in() -> None:
        with ward.write() as tx:
            tx.add_reading(build.reading())

    with ward.read() as reader:
        assert reader.readings("check-1") == ()
        other = threading.Thread(target=hand_in)
        other.start()
        other.join()
        assert reader.readings("check-1") == ()
    with ward.read() as reader:
        assert len(reader.readings("check-1")) == 1


def test_a_transaction_sees_what_it_has_written(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_reading(build.reading())
        assert tx.find_reading("check-1", "sources", 1, 1) == build.reading()


def test_a_check_that_is_not_there_cannot_be_locked(ward: Store) -> None:
    with ward.write() as tx:
        with pytest.raises(LookupError):
            tx.lock_check("none")
        tx.refuse()


def test_the_check_is_locked_before_the_head_of_the_log(ward: Store) -> None:
    """Two that lock in different orders would wait for each other."""
    with ward.write() as tx:
        tx.add_infusion(build.infusion(id="infusion-2"))
        tx.add_check(build.check(id="check-2", infusion="infusion-2"))
    with pytest.raises(LockedOutOfOrder), ward.write() as tx:
        tx.append(build.open_event(), act=build.act(), check="check-1")
        tx.lock_check("check-2")
    with pytest.raises(LockedOutOfOrder), ward.write() as tx:
        tx.append(build.open_event(), act=build.act())
        tx.add_check(build.check(id="check-3"))
    with ward.write() as tx:
        tx.lock_check("check-1")
        tx.append(build.open_event(), act=build.act(), check="check-1")
        tx.lock_check("check-1")
        tx.add_reading(build.reading())


def test_a_locked_check_makes_the_next_act_wait(ward: Store) -> None:
    order: list[str] = []
    begun = threading.Event()

    def second() -> None:
        begun.wait(10)
        with ward.write() as tx:
            tx.lock_check("check-1")
            order.append("second")

    other = threading.Thread(target=second)
    with ward.write() as tx:
        tx.lock_check("check-1")
        other.start()
        begun.set()
        other.join(0.3)
        order.append("first")
    other.join(10)
    assert order == ["first", "second"]


def test_looking_at_a_check_does_not_wait_for_an_act(postgresql_url: str) -> None:
    """A look is recorded, pointing at the check, while another act holds the check's row."""
    opened = open_store(postgresql_url)
    with opened.write() as tx:
        build.add_ward(tx)
        build.add_joined_check(tx)

    def look() -> None:
        with opened.write() as tx:
            tx.add_access(Access(at=build.NOW, person="chidi", session="s", check="check-1", what="state"))

    with opened.write() as tx:
        tx.lock_check("check-1")
        other = threading.Thread(target=look)
        other.start()
        other.join(10)
        assert not other.is_alive()
    opened.close()


def test_errors_carry_no_parameters(ward: Store) -> None:
    with ward.read() as reader, pytest.raises(DBAPIError) as error:
        row = {"id": "canary 7.3719", "name": "x", "name_folded": "x"}
        reader._connection.execute(insert(unit_tables.unit), row)  # noqa: SLF001  # past the reader
    assert "7.3719" not in str(error.value)


def test_a_store_can_be_opened_again(database_url: str) -> None:
    for name in ("Ward 5", "Ward 6"):
        opened = open_store(database_url)
        with opened.write() as tx:
            tx.add_unit(Unit(id=name, name=name))
        opened.close()
    opened = open_store(database_url)
    with opened.read() as reader:
        assert [unit.name for unit in reader.units()] == ["Ward 5", "Ward 6"]
    opened.close()


@pytest.mark.parametrize(
    "address", ["sqlite://", "sqlite:///:memory:", "mysql://localhost/x"], ids=["empty", "memory", "other"]
)
def test_other_databases_are_refused(address: str) -> None:
    with pytest.raises(ValueError, match=r"the .*database must be"):
        open_store(address)


def test_the_lock_file_is_private(sqlite_url: str) -> None:
    opened = open_store(sqlite_url)
    with opened.write():
        pass
    opened.close()
    lock = Path(sqlite_url.removeprefix("sqlite:///") + ".lock")
    assert lock.stat().st_mode & 0o777 == 0o600
