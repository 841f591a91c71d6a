"""The kept roots of the log's blocks: a start reads the tail alone, and none of them is believed alone."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

import pytest
from sqlalchemy import text

from app.auditing.checkpointing import HistoryChanged, make_checkpoint, place_of
from app.auditing.verifying_store import Wanted, verify_store
from app.keys import load_site_keys
from app.records.events import SecurityNoted
from app.records.proofs import BLOCK
from app.records.store_verification import Failing
from app.site.log_tree import LogTree
from app.storage import Reader
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator

# Entries beside the ward's own.
MANY = 3 * BLOCK


@pytest.fixture
def filled(sqlite_url: str) -> Iterator[Ward]:
    """A log of some blocks that was signed whole, and some entries behind them."""
    with open_ward(sqlite_url) as ward:
        happens(ward, MANY)
        signs(ward)
        happens(ward, 10)
        yield ward


def happens(ward: Ward, times: int) -> None:
    with ward.site.store.write() as tx:
        for number in range(times):
            tx.append(SecurityNoted(person=f"tried {number}", what="a wrong secret"), at=ward.now)


def signs(ward: Ward) -> object:
    keys = load_site_keys(ward.site.site_keys, ward.now)
    return make_checkpoint(ward.site, keys, ward.wait().now)


def places(ward: Ward, position: int) -> object:
    """As a process does that has just started."""
    keys = load_site_keys(ward.site.site_keys, ward.now)
    return place_of(ward.site, keys, LogTree(), position=position, now=ward.now)


def size(ward: Ward) -> int:
    with ward.site.store.read() as reader:
        return reader.head()


def blocks(ward: Ward) -> tuple[str, ...]:
    head = size(ward)
    with ward.site.store.read() as reader:
        return LogTree(anew=True).blocks(reader, head)


@contextmanager
def counted() -> Iterator[list[int]]:
    """How many entries are read."""
    read, leaves = [], Reader.leaves

    def counting(self: Reader, **of: Any) -> Iterator[bytes]:  # noqa: ANN401  # passed on
        for each in leaves(self, **of):
            read.append(1)
            yield each

    with patch.object(Reader, "leaves", counting):
        yield read


def change(ward: Ward, *statements: str) -> None:
    with as_database_administrator(ward.address) as connection:
        for each in statements:
            assert connection.execute(text(each)).rowcount > 0


def failing(ward: Ward) -> set[str]:
    steps = verify_store(ward.site, ward.now, Wanted())
    assert isinstance(steps, Iterator)
    return {each.about for each in steps if isinstance(each, Failing)}


def test_a_start_reads_the_tail_of_the_log_and_comes_to_the_same(filled: Ward) -> None:
    head = size(filled)
    with counted() as read, filled.site.store.read() as reader:
        root = LogTree().find_root(reader, head)
    assert 10 <= len(read) < BLOCK
    with counted() as read, filled.site.store.read() as reader:
        assert LogTree(anew=True).find_root(reader, head) == root
    assert len(read) == head


@pytest.mark.parametrize("position", [1, BLOCK, BLOCK + 1, 2 * BLOCK + 3])
def test_the_place_of_an_old_entry_costs_its_block(filled: Ward, position: int) -> None:
    head = size(filled)
    with counted() as read, filled.site.store.read() as reader:
        place = LogTree().place(reader, position, head)
        assert len(read) < 2 * BLOCK + 2
        assert place == LogTree(anew=True).place(reader, position, head)


TAMPERED = {
    "the first": "UPDATE log_block SET root = (SELECT root FROM log_block WHERE number = 1) WHERE number = 0",
    "the last": "UPDATE log_block SET root = (SELECT root FROM log_block WHERE number = 0) WHERE number = 2",
}


@pytest.mark.parametrize("case", TAMPERED)
def test_a_kept_root_that_was_changed_is_found_before_anything_is_signed_with_it(
    filled: Ward, case: str
) -> None:
    change(filled, TAMPERED[case])
    assert isinstance(places(filled, size(filled)), HistoryChanged)
    assert isinstance(signs(filled), HistoryChanged)
    assert failing(filled) == {"log_block.root"}


def test_one_of_entries_that_are_not_there_is_found(filled: Ward) -> None:
    change(filled, f"INSERT INTO log_block SELECT max(number) + 1, '{'0' * 64}' FROM log_block")  # noqa: S608  # of this test
    found = signs(filled)
    assert isinstance(found, HistoryChanged)
    assert "block" in found.says
    assert failing(filled) == {"log_block.root"}


def test_an_old_entry_changed_together_with_its_root_is_found_by_the_next_start(filled: Ward) -> None:
    """The root over all of them is not the one that was signed."""
    own = blocks(filled)
    change(
        filled,
        "UPDATE log_entry SET canonical = CAST(replace(canonical, 'tried', 'tryed') AS BLOB) "  # noqa: S608  # as above
        f"WHERE position = {BLOCK + 60}",
    )
    others = blocks(filled)
    assert own[0] == others[0]
    assert own[1] != others[1]
    change(filled, f"UPDATE log_block SET root = '{others[1]}' WHERE number = 1")  # noqa: S608  # of this test
    assert isinstance(places(filled, size(filled)), HistoryChanged)
    assert isinstance(signs(filled), HistoryChanged)
    assert "checkpoint.root" in failing(filled)


def test_where_nothing_was_signed_nothing_kept_is_believed(filled: Ward) -> None:
    change(filled, "DELETE FROM checkpoint", TAMPERED["the first"])
    with counted() as read:
        found = places(filled, size(filled))
    assert isinstance(found, tuple)
    assert len(read) > MANY
    with filled.site.store.read() as reader:
        assert found[1].root == LogTree(anew=True).find_root(reader, found[1].size)


def test_one_that_is_gone_is_read_from_the_log(filled: Ward) -> None:
    change(filled, "DELETE FROM log_block WHERE number = 1")  # of this test
    assert isinstance(places(filled, size(filled)), tuple)
    assert failing(filled) == set()
