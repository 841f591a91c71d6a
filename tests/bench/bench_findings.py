"""Whether a page of the list of findings costs the same however many there are, and what a trend costs.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_findings.py [HOW-MANY ...]`.
Tables are filled straight with 10,000 and 1,000,000 findings. A page is asked for by each filter of the list,
for what is common and for what one finding in 20,000 has, on all units and on one, at the newest end and in
the middle. CPU time of this process on SQLite, time on the clock on PostgreSQL, where the work is another
process's; median. Beside them what each trend of the last two years counts, in times the plain count of the
same findings by code and severity. Exits with 1 when a page of the larger takes over twice that of the
smaller, one of what is rare over twice that of what is common, or a trend over four times the count.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from itertools import count
from pathlib import Path
from statistics import median

from app.records.kinds import SET_UP
from app.records.reached import ReviewState
from app.storage import FindingsWanted, Store, migrate, open_store
from tests.bench.many_findings import COMMON, RARE, REVIEWING_UNITS, UNITS, fill
from tests.bench.trend_questions import report_trends
from tests.story.people import NADIA, QUILL
from tests.support.postgresql import Cluster, shared_cluster
from tests.support.tampering import as_database_administrator

AT_MOST, OF_PLAIN = 2.0, 4.0
SIZES = tuple(map(int, sys.argv[1:])) or (10_000, 1_000_000)
TIMES = 30
PAGE = 26
# Below this the clock tells more of the machine than of the question.
LEAST = 0.0005


def asked_for() -> Iterator[tuple[str, FindingsWanted, FindingsWanted]]:
    """Each filter with what is common and with what is rare; unfiltered there is nothing rare."""
    for unit in ({}, {"unit": UNITS[3]}):
        on = " on one unit" if unit else ""
        every = FindingsWanted(columns=unit, limit=PAGE)
        yield f"all{on}", every, every
        for name in COMMON:
            if name == "settled":
                yield f"settled{on}", replace(every, settled=COMMON[name]), replace(every, settled=RARE[name])
                continue
            common, rare = ({**unit, name: each[name]} for each in (COMMON, RARE))
            yield f"{name}{on}", replace(every, columns=common), replace(every, columns=rare)
    yield from asked_of_reviews()


def asked_of_reviews() -> Iterator[tuple[str, FindingsWanted, FindingsWanted]]:
    """Each state of a review: where nearly all has been reviewed, what waits is rare, and so is the rest."""
    every = FindingsWanted(columns={}, limit=PAGE, person=QUILL.id)
    here, elsewhere = (replace(every, columns={"unit": each}) for each in (REVIEWING_UNITS[3], UNITS[-1]))
    waiting = replace(elsewhere, review=ReviewState.NOT_REVIEWED)
    common = replace(here, review=ReviewState.REVIEWED)
    for state in ReviewState:
        usual = waiting if state is ReviewState.NOT_REVIEWED else common
        yield f"{state} on one unit", usual, replace(here, review=state)
        yield f"{state}", usual, replace(every, review=state)
    # Whoever had a part in every check finds nothing to classify.
    stops = replace(every, columns={"severity": "stop"}, kinds=(SET_UP.name,), to_classify=True)
    yield "to classify", stops, replace(stops, person=NADIA.id)
    yield "reviewed elsewhere", common, replace(elsewhere, review=ReviewState.REVIEWED)


@contextmanager
def filled(address: str, findings: int) -> Iterator[Store]:
    """A store with so many findings."""
    migrate(address)
    begun = time.perf_counter()
    with as_database_administrator(address) as connection:
        fill(connection, findings)
    print(f"  {findings:9,} findings written in {time.perf_counter() - begun:.0f} s")
    store = open_store(address)
    yield store
    store.close()


def took(store: Store, wanted: FindingsWanted, clock: Callable[[], float]) -> float:
    """The median of a page at the newest end, and of one in the middle."""
    with store.read() as reader:
        newest = reader.page_of_findings(wanted)
        middle = replace(wanted, after=newest[len(newest) // 2].place) if newest else wanted
        times = []
        for _ in range(TIMES):
            begun = clock()
            reader.page_of_findings(wanted)
            reader.page_of_findings(middle)
            times.append((clock() - begun) / 2)
    return max(median(times), LEAST)


def report(engine: str, addresses: Iterator[str], clock: Callable[[], float]) -> bool:
    """Print what each filter takes with each size; whether none of them passes the limit."""
    print(engine)
    with ExitStack() as stack:
        stores = [stack.enter_context(filled(next(addresses), findings)) for findings in SIZES]
        is_flat = True
        for name, common, rare in asked_for():
            of_common = [took(store, common, clock) for store in stores]
            of_rare = [took(store, rare, clock) for store in stores]
            grows = max(of_common[-1] / of_common[0], of_rare[-1] / max(of_rare[0], LEAST))
            costs = of_rare[-1] / of_common[-1]
            is_flat &= of_common[-1] / of_common[0] <= AT_MOST and costs <= AT_MOST
            shown = ", ".join(f"{each * 1000:.2f}" for each in of_common)
            print(
                f"  {name:26} common {shown} ms, rare {of_rare[-1] * 1000:.2f} ms: "
                f"{grows:.1f} times the smaller, rare {costs:.1f} times common"
            )
        is_flat &= report_trends(stores[-1], clock)
    return is_flat


def main() -> int:
    """Both engines; the status of the command."""
    with tempfile.TemporaryDirectory() as folder:
        files = (f"sqlite:///{folder}/{number}.sqlite3" for number in range(len(SIZES)))
        flat = report("SQLite", files, time.process_time)
        size = max(each.stat().st_size for each in Path(folder).glob("*.sqlite3"))
        print(f"  the largest file has {size / 1e9:.2f} GB")
        databases = _databases(shared_cluster(Path(folder), os.getpid()))
        flat &= report("PostgreSQL", databases, time.perf_counter)
    return 0 if flat else 1


def _databases(cluster: Cluster) -> Iterator[str]:
    for number in count():
        cluster.create(f"findings_{number}")
        yield cluster.url(f"findings_{number}")


if __name__ == "__main__":
    sys.exit(main())
