"""How long the bedside waits beside a running export, and without one: 95 of 100 answers.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_beside_export.py [FINDINGS]`.
A nurse asks for her list and a check by turns. The export of many findings reads the same database in a
process of its own that gives way, as one that is asked for on the web does, again and again. Exits with 1
when an answer waits more than `AIM` times as long beside it as without.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import cycle, islice
from pathlib import Path
from statistics import median, quantiles

from app.site.installation import Site
from app.storage import migrate, open_store
from app.workflow.export_apart import NICE, ONE_THREAD
from tests.bench.many_findings import made, write
from tests.factories.site_keys import site_keys
from tests.story.pages import cleared
from tests.support.browser import Browser
from tests.support.tampering import as_database_administrator
from tests.support.world import KEY, World, furnish, make_world

FINDINGS = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
ANSWERS, ROUNDS, AIM = 100, 3, 2.0
# Behind every entry that the log of such an installation has.
FIRST_POSITION = 1_000_000


def world_in(address: str) -> World:
    """A furnished installation."""
    migrate(address)
    store = open_store(address)
    furnish(Site(store=store, key=KEY, site_keys=site_keys()))
    return make_world(store)


@contextmanager
def exporting(address: str) -> Iterator[None]:
    """Exports, one after the other."""
    again = f"while :; do {sys.executable} -m tests.bench.bench_exports --make {address} 'as it is'; done"
    words = ["nice", "-n", str(NICE), "/bin/sh", "-c", again]
    environment = {**os.environ, **ONE_THREAD}
    with subprocess.Popen(
        words, stdout=subprocess.DEVNULL, env=environment, start_new_session=True
    ) as process:
        # Until it has loaded what it needs, and reads.
        time.sleep(3)
        yield
        os.killpg(process.pid, 15)


def waits(bedside: Browser, paths: tuple[str, ...]) -> float:
    """The wait, in milliseconds, that 95 of 100 answers stay below."""
    took = []
    for path in islice(cycle(paths), ANSWERS):
        begun = time.perf_counter()
        assert bedside.get(path).status == 200
        took.append(1000 * (time.perf_counter() - begun))
    return quantiles(took, n=20)[-1]


def main() -> int:
    """By turns, some rounds of them."""
    with tempfile.TemporaryDirectory() as name:
        address = f"sqlite:///{Path(name) / 'store.sqlite3'}"
        world = world_in(address)
        bedside, paths = world.at("n.ferrow"), ("/", f"/check/{cleared(world).check}")
        with as_database_administrator(address) as connection:
            write(connection, made(FINDINGS), position=FIRST_POSITION)
        waits(bedside, paths)
        without, beside = [], []
        for _ in range(ROUNDS):
            without.append(waits(bedside, paths))
            with exporting(address):
                beside.append(waits(bedside, paths))
        world.site.store.close()
    for said, each in (("without an export", without), ("beside an export", beside)):
        shown = ", ".join(f"{one:.0f}" for one in each)
        print(f"{said}: 95 of 100 answers within {shown} ms; load {os.getloadavg()[0]:.1f}")
    return 0 if median(beside) <= AIM * median(without) else 1


if __name__ == "__main__":
    sys.exit(main())
