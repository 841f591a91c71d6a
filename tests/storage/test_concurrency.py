"""At the same instant: nothing is lost, nothing happens twice, nobody waits for ever."""

from collections.abc import Sequence
from functools import partial

import pytest
from sqlalchemy import insert, select

from app.records.events import HandedIn, SecurityNoted
from app.storage import ConstraintBroken, Store, open_store, tables
from app.storage.rows import as_row
from tests.storage import builders as build
from tests.storage.builders import NOW, later
from tests.storage.conftest import engine_of
from tests.storage.racing import at_once, run_together, start_process

ROUNDS = 100


def _broken(outcomes: Sequence[object]) -> list[str]:
    """The constraints that were broken; anything else raised fails the test."""
    raised = [each for each in outcomes if isinstance(each, Exception)]
    assert all(isinstance(each, ConstraintBroken) for each in raised), raised
    return [str(each) for each in raised]


def test_two_hand_in_at_the_same_instant(ward: Store) -> None:
    """Both readings stay, and exactly one is told that both are there: no round is left waiting."""

    def hand_in(number: int, slot: int) -> int:
        with ward.write() as tx:
            tx.lock_check("check-1")
            tx.add_reading(build.reading(slot, round=number))
            handed_in = HandedIn(subject="sources", round=number, slot=slot, commitment="c")
            tx.append(handed_in, act=build.act(build.PEOPLE[slot - 1]), check="check-1")
            return sum(each.round == number for each in tx.readings("check-1"))

    for number in range(1, ROUNDS + 1):
        outcomes = at_once([partial(hand_in, number, 1), partial(hand_in, number, 2)])
        assert sorted(map(str, outcomes)) == ["1", "2"], number
    with ward.read() as reader:
        assert len(reader.readings("check-1")) == 2 * ROUNDS
        assert len(reader.uncompared()) == ROUNDS
        assert [each.position for each in reader.entries("check-1")] == list(range(1, 2 * ROUNDS + 1))


def test_without_the_lock_both_would_wait(postgresql_url: str) -> None:
    """The twin, by plain SQL: each inserts and counts, and neither sees the other."""
    store = open_store(postgresql_url)
    with store.write() as tx:
        build.add_ward(tx)
        build.add_joined_check(tx)
    store.close()
    with engine_of(postgresql_url) as engine, engine.connect() as one, engine.connect() as two:
        for slot, connection in ((1, one), (2, two)):
            connection.execute(insert(tables.reading), as_row(build.reading(slot), tables.reading))
        counts = [len(connection.execute(select(tables.reading)).all()) for connection in (one, two)]
        for connection in (one, two):
            connection.commit()
    assert counts == [1, 1]


def test_one_comparison_however_many_try(ward: Store) -> None:
    with ward.write() as tx:
        for slot in (1, 2):
            tx.add_reading(build.reading(slot))

    def compare() -> str:
        with ward.write() as tx:
            tx.add_comparison(build.comparison())
        return "compared"

    outcomes = at_once([compare] * 8)
    assert outcomes.count("compared") == 1
    assert _broken(outcomes) == ["one_comparison_a_round"] * 7


def test_the_same_reading_sent_twice_is_kept_once(ward: Store) -> None:
    def hand_in(number: int) -> str:
        with ward.write() as tx:
            tx.add_reading(build.reading(id=f"reading {number}"))
        return "handed in"

    outcomes = at_once([partial(hand_in, number) for number in range(4)])
    assert outcomes.count("handed in") == 1
    assert len(_broken(outcomes)) == 3


def test_one_person_takes_the_free_slot(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_check(build.check(id="check-2", opened_at=later(60)))
        tx.add_participant(build.participant(1, check="check-2"))

    def join(person: str) -> str:
        with ward.write() as tx:
            tx.add_participant(build.participant(2, check="check-2", person=person))
        return person

    outcomes = at_once([partial(join, person) for person in ("birk", "femi", "gita")])
    assert _broken(outcomes) == ["one_person_a_slot"] * 2


def test_nobody_joins_and_takes_help_at_the_same_instant(store: Store) -> None:
    """Each side of the rule looks at the other's table; without the lock in the trigger both would pass."""
    with store.write() as tx:
        build.add_ward(tx)
        for number in range(40):
            tx.add_infusion(build.infusion(id=f"infusion {number}"))
            tx.add_check(build.check(id=f"check {number}", infusion=f"infusion {number}"))

    def by_sql(table: str, row: object) -> str:
        # Past the store, so that only the trigger's own lock stands between the two.
        with store._engine.connect() as connection:  # noqa: SLF001  # past the store
            connection.execution_options(writing=True)
            with connection.begin():
                try:
                    connection.execute(
                        insert(tables.metadata.tables[table]), as_row(row, tables.metadata.tables[table])
                    )
                except Exception as problem:  # noqa: BLE001  # looked at below
                    return "third_person" if "third_person" in str(problem) else repr(problem)
        return table

    for number in range(40):
        check = f"check {number}"
        outcomes = at_once(
            [
                partial(by_sql, "participant", build.participant(1, check=check, person="femi")),
                partial(by_sql, "help_taker", build.help_taker(help=check, check=check)),
            ]
        )
        assert sorted(map(str, outcomes)) in (["help_taker", "third_person"], ["participant", "third_person"])


def test_positions_have_no_gap_whoever_gives_up(ward: Store) -> None:
    def append(number: int) -> bool:
        kept = number % 3 != 0
        with ward.write() as tx:
            tx.append(SecurityNoted(person="amari", what=f"signed in {number}"), at=NOW)
            if not kept:
                tx.refuse()
        return kept

    outcomes = [
        each for start in range(0, 48, 8) for each in at_once([partial(append, start + i) for i in range(8)])
    ]
    assert _broken(outcomes) == []
    with ward.read() as reader:
        entries = reader.log_entries(after=0, limit=99)
        assert reader.head() == len(entries) == outcomes.count(True)
    assert [each.position for each in entries] == list(range(1, len(entries) + 1))


def test_acts_on_different_checks_do_not_wait_for_ever(ward: Store) -> None:
    """Each locks its check, then the log's head; they meet only there, and always in that order."""
    with ward.write() as tx:
        tx.add_check(build.check(id="check-2", opened_at=later(60)))

    def act(number: int) -> int:
        check = f"check-{number % 2 + 1}"
        for _ in range(10):
            with ward.write() as tx:
                tx.lock_check(check)
                tx.append(build.open_event(), act=build.act(), check=check)
                tx.append(build.open_event(), act=build.act(), check=check)
        return number

    assert sorted(map(str, at_once([partial(act, number) for number in range(6)]))) == list("012345")
    with ward.read() as reader:
        assert reader.head() == 120


def test_two_tabs_save_one_version(ward: Store) -> None:
    def save(version: int, minute: int) -> bool:
        with ward.write() as tx:
            return tx.save_draft(
                build.draft(version=version + 1, saved_at=later(minute)), expected_version=version
            )

    for version in range(20):
        outcomes = at_once([partial(save, version, minute) for minute in range(3)])
        assert sorted(map(str, outcomes)) == ["False", "False", "True"]


def test_one_process_holds_the_lease(ward: Store) -> None:
    def take(holder: str, minute: int) -> bool:
        with ward.write() as tx:
            return tx.take_lease("sweeper", holder, now=later(minute), until=later(minute + 1))

    for minute in range(10):
        outcomes = at_once([partial(take, holder, minute) for holder in ("one", "two", "three")])
        assert sorted(map(str, outcomes)) == ["False", "False", "True"]


APPEND = """
import sys
from datetime import UTC, datetime
from app.records.events import SecurityNoted
from app.storage import open_store
store = open_store(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
for number in range(40):
    with store.write() as tx:
        tx.append(SecurityNoted(person=sys.argv[2], what=str(number)), at=datetime(2026, 3, 1, tzinfo=UTC))
        if number % 10 == 0:
            tx.refuse()
store.close()
"""


def test_processes_share_one_log_without_a_gap(store: Store, database_url: str) -> None:
    run_together(APPEND, [(database_url, name) for name in ("one", "two", "three")])
    with store.read() as reader:
        entries = reader.log_entries(after=0, limit=999)
    assert [each.position for each in entries] == list(range(1, 3 * 36 + 1))
    for name in ("one", "two", "three"):
        events = [each.event for each in entries]
        own = [each.what for each in events if isinstance(each, SecurityNoted) and each.person == name]
        assert own == [str(number) for number in range(40) if number % 10]


DIE = """
import os, sys
from app.records.events import SecurityNoted
from app.storage import open_store
from tests.storage import builders as build
store = open_store(sys.argv[1])
with store.write() as tx:
    tx.add_reading(build.reading())
    tx.append(build.open_event(), act=build.act(), check="check-1")
    print("written", flush=True)
    os._exit(137)
"""


def test_a_process_that_dies_in_the_middle_leaves_nothing_and_holds_up_nobody(
    ward: Store, database_url: str
) -> None:
    process = start_process(DIE, database_url)
    said, _ = process.communicate(timeout=60)
    assert (process.returncode, said) == (137, "written\n")
    with ward.write() as tx:
        assert tx.readings("check-1") == ()
        assert tx.append(build.open_event(), act=build.act(), check="check-1").position == 1


BUSY = """
import sys, time
from datetime import UTC, datetime
from app.records.events import SecurityNoted
from app.storage import open_store
store = open_store(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
end, commits = time.monotonic() + 2, 0
while time.monotonic() < end:
    with store.write() as tx:
        tx.append(SecurityNoted(person="amari", what="x"), at=datetime(2026, 3, 1, tzinfo=UTC))
    commits += 1
print(commits)
store.close()
"""


def test_no_writing_process_starves(sqlite_url: str) -> None:
    """Without the lock file one of two processes was seen to get 1 commit against 18,916 of the other."""
    commits = [int(said) for said in run_together(BUSY, [(sqlite_url,)] * 3)]
    assert min(commits) >= max(commits) * 0.05, commits


@pytest.mark.parametrize("slot", [1, 2])
def test_both_sign_at_the_same_instant(ward: Store, slot: int) -> None:
    """Exactly one of the two sees both signatures, whichever of them was drawn first."""
    with ward.write() as tx:
        for each in (1, 2):
            tx.add_reading(build.reading(each))
        tx.add_frozen(build.frozen())

    def sign(which: int) -> int:
        with ward.write() as tx:
            tx.lock_check("check-1")
            tx.add_signature(build.signature(which))
            return len(tx.signatures("check-1"))

    outcomes = at_once([partial(sign, slot), partial(sign, 3 - slot)])
    assert sorted(map(str, outcomes)) == ["1", "2"]
    with ward.read() as reader:
        assert reader.unissued() == (("check-1", 1),)
