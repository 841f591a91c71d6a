"""What a CSV export takes beside the database's own bulk output of the same rows, on both databases.

Each side is a process of its own, in turn with the others: seconds of a processor (on PostgreSQL with those
of the server), and the most memory that an export held. What an export of no rows takes is said by itself,
and left out of the times: a process starts once. `python -m tests.bench.bench_exports [FINDINGS]`
"""

import importlib
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

from app.reports.deidentified import Deidentifier
from app.reports.flat_table import with_durations, write_csv, write_csv_lines
from app.storage import ExportSpan, migrate, open_store
from app.storage.export_batches import ended_batches
from app.storage.export_lines import lines_of_checks
from app.workflow.export_apart import ONE_THREAD
from tests.bench.many_findings import fill
from tests.support.postgresql import Cluster, shared_cluster
from tests.support.tampering import as_database_administrator

ROUNDS = 2
EVERY = ExportSpan(from_=datetime(2000, 1, 1, tzinfo=UTC), before=datetime(2100, 1, 1, tzinfo=UTC))
SPANS = {"start-up": replace(EVERY, before=EVERY.from_), "as it is": EVERY, "de-identified": EVERY}
FLOOR = "bulk output"
_A_SECOND = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, kw_only=True)
class Server:
    """What of a server is running: nothing for SQLite."""

    keeper: Path | None = None

    def seconds(self) -> float:
        """Of a processor, of all its processes that have ended."""
        if self.keeper is None:
            return 0.0
        told = Path(f"/proc/{self.keeper.read_text().splitlines()[0]}/stat").read_text().rpartition(")")[2]
        return sum(map(int, told.split()[13:15])) / _A_SECOND


def make(address: str, folder: Path, side: str) -> None:
    """What the process of an export does, in this one."""
    # What makes an export is in memory, too.
    importlib.import_module("app.workflow.export_making")
    store, deidentifier = open_store(address), Deidentifier(key=b"k" * 32, units="pseudonym", beds="left out")
    with store.read() as reader:
        if side == "de-identified":
            batches = map(deidentifier.bare, map(with_durations, ended_batches(reader, SPANS[side])))
            write_csv(batches, folder, name="out.csv", tell=lambda _: None)
        else:
            checks = lines_of_checks(reader, SPANS[side])
            write_csv_lines(checks, (), folder, name="out.csv", tell=lambda _: None)
    store.close()
    # As the system counts it for a process, what it was copied from counts, too.
    (most,) = re.findall(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())
    print(int(most) // 1024)


def measured(words: list[str], out: Path, server: Server) -> tuple[float, int]:
    """Seconds of a processor, and the MiB that an export says that it held."""
    before = server.seconds()
    environment = {**os.environ, **ONE_THREAD}
    with out.open("wb") as into, subprocess.Popen(words, stdout=into, env=environment) as process:
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, words[:3]
    held = int(out.read_text()) if "--make" in words else 0
    return used.ru_utime + used.ru_stime + server.seconds() - before, held


@dataclass(frozen=True, kw_only=True)
class Engine:
    """A database that is filled, and how it is asked for its own output."""

    name: str
    address: str
    bulk: list[str]
    server: Server


def report(engine: Engine, out: Path) -> None:
    """All sides in turn, some rounds of them."""
    sides = {FLOOR: engine.bulk}
    for side in SPANS:
        sides[side] = [sys.executable, "-m", "tests.bench.bench_exports", "--make", engine.address, side]
    took: dict[str, list[tuple[float, int]]] = {side: [] for side in sides}
    for _ in range(ROUNDS):
        for side, words in sides.items():
            took[side].append(measured(words, out, engine.server))
    cpu = {side: median(each for each, _ in some) for side, some in took.items()}
    print(f"{engine.name}, load {os.getloadavg()[0]:.1f}")
    for side, some in took.items():
        begun = 0.0 if side in {FLOOR, "start-up"} else cpu["start-up"]
        times = (cpu[side] - begun) / cpu[FLOOR]
        memory = max(most for _, most in some)
        print(
            f"  {side:14} {cpu[side]:6.2f} s of a processor, {memory:4} MiB, {times:4.2f} times", flush=True
        )


def engines(findings: int, folder: Path) -> Iterator[Engine]:
    """Each database with so many findings."""
    file = folder / "store.sqlite3"
    text = _filled(f"sqlite:///{file}", findings)
    bulk = ["sqlite3", "-csv", "-header", str(file), text]
    yield Engine(name="SQLite", address=f"sqlite:///{file}", bulk=bulk, server=Server())
    cluster: Cluster = shared_cluster(folder, os.getpid())
    cluster.create("exports")
    address = cluster.url("exports")
    text = _filled(address, findings)
    words = ["psql", "-h", str(cluster.folder), "-U", "countersign", "-c"]
    bulk = [*words, f"COPY ({text}) TO STDOUT (FORMAT csv, HEADER)", "exports"]
    server = Server(keeper=cluster.folder / "data" / "postmaster.pid")
    yield Engine(name="PostgreSQL", address=address, bulk=bulk, server=server)


def _filled(address: str, findings: int) -> str:
    if findings:
        migrate(address)
        with as_database_administrator(address) as connection:
            fill(connection, findings)
    store = open_store(address)
    with store.read() as reader:
        text: str = reader.flat_source(EVERY).text
    store.close()
    return text


def main() -> None:
    """Both databases, one after the other."""
    findings = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for engine in engines(findings, folder):
            report(engine, folder / "out")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--make"]:
        with tempfile.TemporaryDirectory() as made_in:
            make(sys.argv[2], Path(made_in), sys.argv[3])
    else:
        main()
