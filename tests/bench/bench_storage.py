"""What storage costs beside the least that could be done. Run it with the project's folder on PYTHONPATH.

Both sides take turns in one run (A B A B) and the median of the pairs counts; CPU time is used where waiting
is not the point.
"""

import resource
import sqlite3
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from statistics import median

from app.records.events import SecurityNoted
from app.storage import ExportSpan, Store, migrate, open_store
from tests.storage import builders as build
from tests.storage.builders import NOW

PAIRS = 9
APPENDS = 300
CHECKS = 3000


def ratio(ours: Callable[[], object], least: Callable[[], object], clock: Callable[[], float]) -> float:
    """How many times as long ours takes."""
    ours()
    least()
    ratios = []
    for _ in range(PAIRS):
        begun = clock()
        ours()
        between = clock()
        least()
        ratios.append((between - begun) / (clock() - between))
    return median(ratios)


def append_beside_a_bare_commit(store: Store, folder: Path) -> float:
    """A transaction with one log entry, beside the standard library inserting the same bytes durably."""
    bare = sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)
    bare.execute("PRAGMA journal_mode = wal")
    bare.execute("PRAGMA synchronous = full")
    bare.execute("CREATE TABLE entry (position INTEGER PRIMARY KEY, canonical BLOB)")
    with store.write() as tx:
        canonical = tx.append(SecurityNoted(person="amari", what="signed in"), at=NOW).canonical

    def ours() -> None:
        for _ in range(APPENDS):
            with store.write() as tx:
                tx.append(SecurityNoted(person="amari", what="signed in"), at=NOW)

    def least() -> None:
        for _ in range(APPENDS):
            bare.execute("BEGIN IMMEDIATE")
            bare.execute("INSERT INTO entry (canonical) VALUES (?)", (canonical,))
            bare.execute("COMMIT")

    found = ratio(ours, least, time.process_time)
    bare.close()
    return found


def fill(store: Store) -> None:
    """Cleared checks, one a minute, with records of 20 KB."""
    document = b'{"record":"' + b"x" * 20_000 + b'"}'
    for start in range(0, CHECKS, 100):
        with store.write() as tx:
            for number in range(start, start + 100):
                name = f"check {number:06}"
                build.add_joined_check(tx, id=name)
                tx.add_frozen(build.frozen(check=name, document=document))
                for slot in (1, 2):
                    signed_at = NOW + timedelta(minutes=number, seconds=slot)
                    tx.add_signature(build.signature(slot, check=name, signed_at=signed_at))


def memory_of_a_stream(store: Store) -> tuple[int, int]:
    """MiB that streaming every record added to the process, and MiB that were streamed."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with store.read() as reader:
        span = ExportSpan(from_=NOW - timedelta(days=9999), before=NOW + timedelta(days=9999))
        streamed = sum(len(each.record) for each in reader.ended_one_by_one(span))
    return (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024, streamed // 2**20


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        address = f"sqlite:///{folder / 'store.sqlite3'}"
        migrate(address)
        store = open_store(address)
        with store.write() as tx:
            build.add_ward(tx)
        append = append_beside_a_bare_commit(store, folder)
        print(f"one audited append: {append:.1f} x a bare commit (CPU; aim 6)")
        fill(store)
        added, streamed = memory_of_a_stream(store)
        print(f"streaming {streamed} MiB of records added {added} MiB (aim: less than 64)")
        store.close()


if __name__ == "__main__":
    main()
