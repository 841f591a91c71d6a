"""A database verified by several processes: the same answer in the same order, and nothing for a lost one."""

import json
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import closing

import pytest
from click.testing import CliRunner
from sqlalchemy import text

from app.auditing import verifying_store
from app.auditing.verifying_store import Wanted, verify_store
from app.cli.verify import verify
from app.records.events import AccountChanged
from app.records.state import Phase
from app.records.store_verification import Progress, Step, Tally, Unverified
from app.storage import open_store
from tests.invariants.twins import Twin
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator

TAMPERED = (
    "UPDATE signature SET printed_name = 'Nadja Ferrow' WHERE slot = 1",
    "UPDATE log_entry SET \"by\" = 'imogen' WHERE kind = 'joined'",
    "UPDATE person SET printed_name = 'Nadja Ferrow' WHERE id = 'nadia'",
)


@pytest.fixture(autouse=True)
def one_check_a_chunk(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if there were enough for several processes."""
    monkeypatch.setattr(verifying_store, "_AT_ONCE", 1)


def steps_of(ward: Ward, processes: int) -> list[Step]:
    steps = verify_store(ward.site, ward.now, Wanted(pages=False, processes=processes))
    assert isinstance(steps, Iterator)
    return list(steps)


@pytest.mark.parametrize("tampered", [(), TAMPERED], ids=["whole", "tampered"])
def test_two_processes_find_the_same_in_the_same_order_as_one(twin: Twin, tampered: tuple[str, ...]) -> None:
    twin.changed(*tampered)
    alone = twin.steps(processes=1)
    assert len({each.check for each in twin.failing()} - {""}) == (3 if tampered else 0)
    assert twin.steps(processes=2) == alone


def test_on_either_engine(database_url: str) -> None:
    with open_ward(database_url) as ward:
        for _ in range(3):
            ward.at_stage(Phase.STARTED)
        assert steps_of(ward, 2) == steps_of(ward, 1)
        with as_database_administrator(database_url) as connection:
            connection.execute(text("UPDATE participant SET joined_at = signed_in_at FROM reading"))
        assert steps_of(ward, 3) == steps_of(ward, 1)


@pytest.mark.parametrize("lost", [1, 2], ids=["one of two", "both"])
def test_a_process_that_ends_is_said_and_its_checks_do_not_count(sqlite_url: str, lost: int) -> None:
    with open_ward(sqlite_url) as ward:
        for _ in range(12):
            ward.at_stage(Phase.CLEARED)
        steps = verify_store(ward.site, ward.now, Wanted(pages=False, processes=2))
        assert isinstance(steps, Iterator)
        tally = Tally(pages=False)
        for step in steps:
            tally.add(step)
            if isinstance(step, Progress) and step.checks == 2:
                for each in multiprocessing.active_children()[:lost]:
                    assert each.pid is not None
                    os.kill(each.pid, signal.SIGKILL)
        missing = sum(each.checks for each in tally.unverified)
        assert tally.unverified[0].end == "signal 9"
        assert missing >= lost
        assert tally.progress.checks == 12 - missing
        assert tally.progress.position < tally.unverified[0].first
        # Whoever goes on after what was said misses none.
        rest = verify_store(ward.site, ward.now, Wanted(pages=False, after=tally.progress.position))
        assert isinstance(rest, Iterator)
        *_, last = rest
        assert isinstance(last, Progress)
        assert last.checks >= missing


def test_the_command_says_what_was_not_verified_and_that_it_is_not_whole(
    monkeypatch: pytest.MonkeyPatch, sqlite_url: str
) -> None:
    lost = Unverified(first=12, last=80, checks=3, end="signal 9")
    with open_ward(sqlite_url) as ward:
        monkeypatch.setattr("app.cli.verify_store.open_site", lambda *_, **__: ward.site)
        monkeypatch.setattr("app.cli.verify_store.settings", lambda: None)
        monkeypatch.setattr("app.cli.verify_store.verify_store", lambda *_: iter([lost]))
        said = CliRunner().invoke(verify, ["--store", "--json"])
        assert said.exit_code == 2
        assert json.loads(said.stdout)["unverified"] == [lost.says]
        assert json.loads(said.stdout)["holds"] is False
        plain = CliRunner().invoke(verify, ["--store"])
    assert plain.exit_code == 2
    assert f"NOT VERIFIED   {lost.says}" in plain.stdout
    assert "EVERYTHING HOLDS" not in plain.stdout


def test_all_see_one_moment_whoever_writes_meanwhile(database_url: str) -> None:
    with open_ward(database_url) as ward, closing(open_store(database_url)) as other:

        def write() -> None:
            with ward.site.store.write() as tx:
                tx.append(AccountChanged(person="nadia", what="closed"), at=ward.now)

        writer = threading.Thread(target=write)
        heads: list[int] = []

        def join(moment: str) -> None:
            writer.start()
            # Longer than the other's whole transaction.
            writer.join(0.5)
            with other.read_ahead(moment) as reader:
                heads.append(reader.head())

        with ward.site.store.read_ahead_with(join) as reader:
            writer.join()
            heads.append(reader.head())
        with ward.site.store.read() as now:
            assert now.head() == heads[0] + 1
    assert heads[0] == heads[1]
