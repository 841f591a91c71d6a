"""How long the bedside waits beside a running export, and without one: 95 of 100 answers, on both databases.

A nurse asks for her list and a check by turns. Exports of many findings that are asked for on the web read
the same database, one after the other, each in the process that makes it. Exits with 1 when an answer waits
more than `AIM` times as long beside them as without. `python -m tests.bench.bench_beside_export [FINDINGS]`
"""

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import cycle, islice
from pathlib import Path
from statistics import median, quantiles
from threading import Event, Thread

from app.workflow.export_apart import start
from app.workflow.export_jobs import Standing
from tests.bench.bench_exports import EVERY
from tests.bench.furnished import asked, fill_world, furnished_world
from tests.story.pages import cleared
from tests.support.browser import Browser
from tests.support.postgresql import shared_cluster
from tests.support.world import World

ANSWERS, ROUNDS, AIM = 200, 3, 2.0


@contextmanager
def exporting(world: World) -> Iterator[None]:
    """Exports, one after the other, until this ends."""
    is_over, is_read = Event(), Event()

    def make() -> None:
        while not is_over.is_set():
            job = asked(world, first=EVERY.from_.date(), last=EVERY.before.date())
            process = start(world.site, job)
            while process.poll() is None:
                if job.progress:
                    is_read.set()
                if is_over.wait(0.05):
                    process.kill()
            assert is_over.is_set() or job.standing is Standing.MADE
            job.remove()

    making = Thread(target=make)
    making.start()
    is_read.wait()
    yield
    is_over.set()
    making.join()


def waits(bedside: Browser, paths: tuple[str, ...]) -> float:
    """The wait, in milliseconds, that 95 of 100 answers stay below."""
    took = []
    for path in islice(cycle(paths), ANSWERS):
        begun = time.perf_counter()
        assert bedside.get(path).status == 200
        took.append(1000 * (time.perf_counter() - begun))
    return quantiles(took, n=20)[-1]


def report(name: str, address: str, findings: int) -> bool:
    """By turns, some rounds of them; whether the bedside goes first."""
    with furnished_world(address) as world:
        bedside, paths = world.at("n.ferrow"), ("/", f"/check/{cleared(world).check}")
        fill_world(world, findings)
        without, beside = _by_turns(world, bedside, paths)
    print(f"{name}, load {os.getloadavg()[0]:.1f}")
    for said, each in (("without an export", without), ("beside an export", beside)):
        shown = ", ".join(f"{one:.0f}" for one in each)
        print(f"  {said}: 95 of 100 answers within {shown} ms", flush=True)
    return median(beside) <= AIM * median(without)


def _by_turns(world: World, bedside: Browser, paths: tuple[str, ...]) -> tuple[list[float], list[float]]:
    waits(bedside, paths)
    without, beside = [], []
    for _ in range(ROUNDS):
        without.append(waits(bedside, paths))
        with exporting(world):
            beside.append(waits(bedside, paths))
    return without, beside


def main() -> int:
    """Both databases, one after the other."""
    findings = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        good = report("SQLite", f"sqlite:///{folder / 'store.sqlite3'}", findings)
        cluster = shared_cluster(folder, os.getpid())
        cluster.create("beside")
        good &= report("PostgreSQL", cluster.url("beside"), findings)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
