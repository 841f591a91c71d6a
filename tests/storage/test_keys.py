"""Keys and checkpoints: what was added is what is found, and only the locked half of a key changes."""

import threading

import pytest
from sqlalchemy import Engine, text

from app.records.events import RecordIssued
from app.storage import ConstraintBroken, Store
from tests.storage import builders as build
from tests.storage import key_builders as keys
from tests.storage.builders import NOW, later


@pytest.fixture
def keyed(store: Store) -> Store:
    """The store with a row in every table: amari and birk confirmed, chidi's key waits, dara's is retired."""
    build.fill(store)
    return store


def test_what_was_added_is_found(keyed: Store) -> None:
    with keyed.read() as reader:
        assert reader.find_issued_code("digest of amari's code") == keys.issued_code()
        assert reader.issued_codes("amari") == (keys.issued_code(),)
        assert reader.find_key("key of dara") == keys.key("dara")
        assert reader.live_key("amari") == keys.key("amari")
        assert reader.find_sealed("key of amari") == b"locked half of amari"
        assert reader.find_confirmation("key of amari") == keys.confirmation()
        assert list(reader.rows("key_retirement")) == [vars(keys.retirement("dara"))]
        assert reader.unconfirmed_keys() == (keys.key("chidi"),)
        assert reader.site_keys() == (keys.site_key(),)
        assert reader.checkpoints() == (keys.checkpoint(),)
        assert reader.latest_checkpoint() == keys.checkpoint()


def test_what_is_not_there_is_none_or_nothing(store: Store) -> None:
    with store.read() as reader:
        assert reader.find_issued_code("x") is None
        assert reader.issued_codes("x") == ()
        assert reader.find_key("x") is None
        assert reader.live_key("x") is None
        assert reader.find_sealed("x") is None
        assert reader.find_confirmation("x") is None
        assert reader.unconfirmed_keys() == ()
        assert reader.site_keys() == ()
        assert reader.checkpoints() == ()
        assert reader.latest_checkpoint() is None
        assert list(reader.leaves(after=0, up_to=9)) == []
        assert reader.issued_entries(up_to=9) == ()


def test_a_retired_key_has_no_private_half_any_more(keyed: Store) -> None:
    with keyed.read() as reader:
        assert reader.live_key("dara") is None
        assert reader.find_sealed("key of dara") is None


def test_a_person_may_have_a_new_key_after_the_old_one_was_retired(keyed: Store) -> None:
    new = keys.key("dara", kid="new key", made_at=later(9))
    with keyed.write() as tx:
        tx.add_key(new, sealed=b"locked")
    with keyed.read() as reader:
        assert reader.live_key("dara") == new
        assert reader.find_key("key of dara") == keys.key("dara")


def test_the_locked_half_changes_with_the_secret(keyed: Store) -> None:
    with keyed.write() as tx:
        tx.set_sealed("key of amari", b"locked anew")
    with keyed.read() as reader:
        assert reader.find_sealed("key of amari") == b"locked anew"
        assert reader.find_sealed("key of birk") == b"locked half of birk"


@pytest.mark.parametrize("kid", ["no key", "key of dara"])
def test_a_half_that_is_not_there_is_not_changed(keyed: Store, kid: str) -> None:
    with pytest.raises(LookupError, match=kid), keyed.write() as tx:
        tx.set_sealed(kid, b"locked anew")


def test_two_keys_of_one_person_at_the_same_instant_are_one(ward: Store, sql: Engine) -> None:
    """Rule: one live key a person, decided by the database."""
    barrier, outcomes = threading.Barrier(2), []

    def make(number: int) -> None:
        barrier.wait(10)
        try:
            with ward.write() as tx:
                tx.add_key(keys.key("dara", kid=f"key {number}"), sealed=b"locked")
        except ConstraintBroken as broken:
            outcomes.append(broken.name)
        else:
            outcomes.append("made")

    threads = [threading.Thread(target=make, args=[number]) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert sorted(outcomes) == ["made", "one_live_key_a_person"]
    with sql.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM personal_key WHERE kid LIKE 'key _'")) == 1


def test_the_log_is_read_as_leaves_in_order(ward: Store) -> None:
    with ward.write() as tx:
        entries = [
            tx.append(build.open_event(bed=str(number)), at=NOW, check="check-1") for number in range(7)
        ]
    with ward.read() as reader:
        assert list(reader.leaves(after=0, up_to=7)) == [each.canonical for each in entries]
        assert list(reader.leaves(after=2, up_to=5)) == [each.canonical for each in entries[2:5]]
        assert list(reader.leaves(after=0, up_to=99)) == [each.canonical for each in entries]


def test_many_leaves_are_read_in_parts(ward: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.storage.read_keys._STREAM", 2)
    with ward.write() as tx:
        entries = [tx.append(build.open_event(bed=str(number)), at=NOW) for number in range(5)]
    with ward.read() as reader:
        assert list(reader.leaves(after=0, up_to=5)) == [each.canonical for each in entries]


def test_the_entries_that_say_issued(ward: Store) -> None:
    with ward.write() as tx:
        tx.append(build.open_event(), at=NOW, check="check-1")
        issued = [
            tx.append(RecordIssued(edition=1, pdf_digest=str(number)), at=NOW, check="check-1")
            for number in range(2)
        ]
    with ward.read() as reader:
        assert reader.issued_entries(up_to=3) == tuple(issued)
        assert reader.issued_entries(up_to=2) == tuple(issued[:1])
