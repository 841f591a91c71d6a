"""What a CSV export takes beside the database's own bulk output of the same rows, on both databases.

An export is the process of one that is asked for on the web. Each side is a process of its own, in turn with
the others: seconds of a processor (on PostgreSQL with those of the server) and on the clock, and the most
memory that an export held. What an export of no rows takes is said by itself, and left out of the times: a
process starts once. Exits with 1 when an aim is missed.
`python -m tests.bench.bench_exports [FINDINGS]`
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median

from app.storage import ExportSpan
from app.workflow.export_apart import ONE_THREAD, told
from app.workflow.export_jobs import Standing
from tests.bench.furnished import asked, fill_world, furnished_world
from tests.support.postgresql import Cluster, shared_cluster
from tests.support.world import World

ROUNDS = 2
EVERY = ExportSpan(from_=datetime(2000, 1, 1, tzinfo=UTC), before=datetime(2100, 1, 1, tzinfo=UTC))
NEVER = date(2001, 1, 1)
FLOOR, START_UP, AS_IS, DEIDENTIFIED = "bulk output", "start-up", "as it is", "de-identified"
# Times the database's own output, and MiB.
AIMS = {AS_IS: 2.0, DEIDENTIFIED: 6.0}
MOST_MEMORY = 150
# As the system counts it for a process, what it was copied from counts, too.
MAKE = """
import re
from pathlib import Path
from app.workflow import export_apart
export_apart.main()
print(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1])
"""
_A_SECOND = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, kw_only=True)
class Server:
    """What of a server is running: nothing for SQLite."""

    keeper: Path | None = None

    def seconds(self) -> float:
        """Of a processor, of all its processes that have ended."""
        if self.keeper is None:
            return 0.0
        stat = Path(f"/proc/{self.keeper.read_text().splitlines()[0]}/stat").read_text().rpartition(")")[2]
        return sum(map(int, stat.split()[13:15])) / _A_SECOND


@dataclass(frozen=True, kw_only=True)
class Engine:
    """A database that is filled, and how it is asked for its own output."""

    name: str
    world: World
    bulk: list[str]
    server: Server = field(default_factory=Server)


@dataclass(frozen=True, kw_only=True)
class Took:
    """Seconds of a processor, seconds on the clock, and the MiB that an export says that it held."""

    processor: float
    clock: float
    memory: int = 0


def measured(words: list[str], out: Path, server: Server, given: bytes = b"") -> Took:
    """What a process takes; an export says itself what it held."""
    before, begun = server.seconds(), time.perf_counter()
    environment = {**os.environ, **ONE_THREAD}
    with (
        out.open("wb") as into,
        subprocess.Popen(words, stdin=subprocess.PIPE, stdout=into, env=environment) as process,
    ):
        assert process.stdin is not None
        with process.stdin as to:
            to.write(given)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    clock = time.perf_counter() - begun
    assert process.returncode == 0, words[:3]
    return Took(
        processor=used.ru_utime + used.ru_stime + server.seconds() - before,
        clock=clock,
        memory=int(out.read_text()) // 1024 if given else 0,
    )


def made(engine: Engine, side: str, out: Path) -> Took:
    """What one export takes."""
    first, last = (NEVER, NEVER) if side == START_UP else (EVERY.from_.date(), EVERY.before.date())
    job = asked(engine.world, first=first, last=last, deidentified=side == DEIDENTIFIED)
    took = measured([sys.executable, "-c", MAKE], out, engine.server, told(engine.world.site, job))
    assert job.standing is Standing.MADE
    job.remove()
    return took


def report(engine: Engine, out: Path) -> bool:
    """All sides in turn, some rounds of them; whether each is as it should be."""
    took: dict[str, list[Took]] = {side: [] for side in (FLOOR, START_UP, AS_IS, DEIDENTIFIED)}
    for _ in range(ROUNDS):
        for side, some in took.items():
            some.append(
                measured(engine.bulk, out, engine.server) if side == FLOOR else made(engine, side, out)
            )
    cpu = {side: median(each.processor for each in some) for side, some in took.items()}
    print(f"{engine.name}, load {os.getloadavg()[0]:.1f}")
    is_good = True
    for side, some in took.items():
        times = (cpu[side] - (cpu[START_UP] if side in AIMS else 0.0)) / cpu[FLOOR]
        memory, clock = max(each.memory for each in some), median(each.clock for each in some)
        is_good &= memory <= MOST_MEMORY and times <= AIMS.get(side, times)
        print(
            f"  {side:14} {cpu[side]:6.2f} s of a processor, {clock:6.2f} s on the clock, {memory:4} MiB, "
            f"{times:4.2f} times",
            flush=True,
        )
    return is_good


def engines(findings: int, folder: Path) -> Iterator[Engine]:
    """Each database with so many findings."""
    file = folder / "store.sqlite3"
    with furnished_world(f"sqlite:///{file}") as world:
        fill_world(world, findings)
        yield Engine(name="SQLite", world=world, bulk=["sqlite3", "-csv", "-header", str(file), _flat(world)])
    cluster: Cluster = shared_cluster(folder, os.getpid())
    cluster.create("exports")
    with furnished_world(cluster.url("exports")) as world:
        fill_world(world, findings)
        words = ["psql", "-h", str(cluster.folder), "-U", "countersign", "-c"]
        bulk = [*words, f"COPY ({_flat(world)}) TO STDOUT (FORMAT csv, HEADER)", "exports"]
        server = Server(keeper=cluster.folder / "data" / "postmaster.pid")
        yield Engine(name="PostgreSQL", world=world, bulk=bulk, server=server)


def _flat(world: World) -> str:
    with world.site.store.read() as reader:
        text: str = reader.flat_source(EVERY).text
    return text


def main() -> int:
    """Both databases, one after the other."""
    findings = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        good = [report(engine, folder / "out") for engine in engines(findings, folder)]
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
