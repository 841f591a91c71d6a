"""Whether a list takes the same time however many checks are over.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_lists.py [HOW-MANY ...]`.
Tables are filled straight with 10, 10,000 and 100,000 checks that are over, on one unit, and whoever looks at
the list was a nurse of each: half of them ended, half started and stopped for good. On top of each the same
few are open or run. The list is then asked for by turns, and something happens each time before. CPU
time of this process on SQLite, time on the clock on PostgreSQL, where the work is another process's; median.
Beside it stands what a process asks once, when it has just begun. Exits with 1 when the list is not flat.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from itertools import count
from pathlib import Path
from statistics import median
from typing import Any

from sqlalchemy import insert, text, update

from app.records import events
from app.records.canonical import canonical
from app.records.state import Phase
from app.records.written import as_data, iso
from app.storage import migrate, tables
from app.workflow.listing import unit_list
from tests.story.people import NADIA, RUTH, TOMAS, WARD
from tests.story.ward import BEGAN, Ward, written_anew
from tests.support.postgresql import Cluster, shared_cluster
from tests.support.tampering import as_database_administrator

FLAT = 1.2
SIZES = tuple(map(int, sys.argv[1:])) or (10, 10_000, 100_000)
TIMES = 40
_CHUNK = 5_000
LONG_AGO = BEGAN - timedelta(days=30)

_JOINED = (events.Joined(slot=1), events.Joined(slot=2))
_ENDED = events.Abandoned(reason="patient-moved", text="")
_STOPPED = events.DeviceStopped(stopped_at="", why=events.END_OF_THERAPY, totals="")


def rows_of(number: int, position: Iterator[int]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The rows of one check that is over."""
    check, infusion = f"over-{number}", f"infusion-over-{number}"
    opened = events.CheckOpened(check_kind="set-up", unit=WARD, bed="0", rereadings_before=0)
    at = {"unit": WARD, "bed": "0", "opened_at": LONG_AGO}
    yield "infusion", {"id": infusion, **at}
    yield "check", {"id": check, "infusion": infusion, "kind": "set-up", "opened_by": NADIA.id, **at}
    for slot, who in ((1, NADIA), (2, TOMAS)):
        yield "participant", {"check": check, "slot": slot, "person": who.id, "joined_at": LONG_AGO}
    ends = (_ENDED,) if number % 2 else (events.Started(), _STOPPED)
    for event in (opened, *_JOINED, *ends):
        yield (
            "log_entry",
            {
                "position": next(position),
                "at": LONG_AGO,
                "by": NADIA.id,
                "infusion": infusion,
                "check": check,
                "session": "s",
                "device": "d",
                "signed_in_at": LONG_AGO,
                "kind": event.kind,
                "canonical": canonical({"kind": event.kind, "at": iso(LONG_AGO), "data": as_data(event)}),
            },
        )


def fill(address: str, wanted: int, head: int) -> None:
    """That many checks that are over, on top of what the log has."""
    position = count(head + 1)
    with as_database_administrator(address) as connection:
        for first in range(0, wanted, _CHUNK):
            some: dict[str, list[dict[str, Any]]] = {}
            for number in range(first, min(first + _CHUNK, wanted)):
                for table, row in rows_of(number, position):
                    some.setdefault(table, []).append(row)
            for table, rows in some.items():
                connection.execute(insert(tables.metadata.tables[table]), rows)
        connection.execute(update(tables.log_head).values(size=next(position) - 1))
        if connection.dialect.name == "postgresql":
            # As a server does by itself; SQLite does not.
            connection.execute(text("ANALYZE"))


@contextmanager
def with_the_same_open(address: str, wanted: int) -> Iterator[Ward]:
    """A ward in which that many checks are over, and the same few are open or run."""
    migrate(address)
    with written_anew(address) as ward:
        with ward.site.store.read() as reader:
            head = reader.head()
        ward.site.store.close()
        fill(address, wanted, head)
        for phase in (Phase.OPENED, Phase.READING, Phase.DISPUTED, Phase.STEPS, Phase.CLEARED, Phase.STARTED):
            ward.at_stage(phase)
        ward.has_beds("elsewhere", "nine").starts_without_check(bed="elsewhere").opens(bed="nine")
        yield ward


def asked(ward: Ward, clock: Callable[[], float]) -> float:
    """What the list takes once something has happened."""
    ward.stops(NADIA, why="line-or-site")
    begun = clock()
    unit_list(ward.site, ward.act(NADIA))
    return clock() - begun


def report(engine: str, addresses: Iterator[str], clock: Callable[[], float]) -> bool:
    """Print what each size takes, asked by turns; whether it is flat."""
    with ExitStack() as stack:
        wards = [stack.enter_context(with_the_same_open(next(addresses), wanted)) for wanted in SIZES]
        first = [asked(ward, clock) for ward in wards]
        took = [[asked(ward, clock) for ward in wards] for _ in range(TIMES)]
        listed = [unit_list(ward.site, ward.act(RUTH)) for ward in wards]
    assert len({len(each.unit) + len(each.running) + len(each.unchecked) for each in listed}) == 1
    ratios = [median(turn[place] / turn[0] for turn in took) for place in range(len(SIZES))]
    for place, wanted in enumerate(SIZES):
        each = 1000 * median(turn[place] for turn in took)
        print(
            f"{engine}: {wanted:>7} over: {each:6.2f} ms, {ratios[place]:.2f} times; "
            f"a process's first {1000 * first[place]:6.1f} ms",
            flush=True,
        )
    return max(ratios) <= FLAT


def main() -> int:
    """Both engines."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = (f"sqlite:///{folder / str(number)}.sqlite3" for number in count())
        flat = [report("SQLite", files, time.process_time)]
        databases = _databases(shared_cluster(folder, os.getpid()))
        flat.append(report("PostgreSQL", databases, time.perf_counter))
    return 0 if all(flat) else 1


def _databases(cluster: Cluster) -> Iterator[str]:
    for number in count():
        cluster.create(f"lists_{number}")
        yield cluster.url(f"lists_{number}")


if __name__ == "__main__":
    sys.exit(main())
