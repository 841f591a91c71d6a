"""What an export of 1,000,000 rows of 300,000 checks takes, beside the database's own bulk output of them.

The rows are written straight into the tables. Each side is a process of its own: processor time, time by the
clock and the most memory that it held. `python -m tests.bench.bench_exports [CHECKS]`
"""

import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from app.reports.deidentified import Deidentifier
from app.reports.flat_table import with_durations, write_csv, write_csv_lines
from app.storage import ExportSpan, migrate, open_store
from app.storage.export_batches import ended_batches
from app.storage.export_lines import lines_of_checks

ROUNDS = 3
BEGAN = datetime(2028, 1, 1, tzinfo=UTC)
SPAN = ExportSpan(from_=BEGAN, before=BEGAN + timedelta(days=9999))


def fill(file: Path, count: int) -> None:
    """Flat rows alone, and what they are joined with; nobody lived through them."""
    rows = Path(__file__).with_suffix(".sql").read_text(encoding="utf-8")
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA foreign_keys = OFF")
    # They hold each row to what stands before it; here nothing was lived through.
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    connection.executescript(rows.replace(":count", str(count)))
    connection.commit()
    connection.execute("ANALYZE")
    connection.close()


def make(address: str, folder: Path, *, bared: bool) -> dict[str, float]:
    """What the export of the program takes, in this process."""
    store, began = open_store(address), time.perf_counter()
    deidentifier = Deidentifier(key=b"k" * 32, units="pseudonym", beds="left out")
    with store.read() as reader:
        if bared:
            batches = map(deidentifier.bare, map(with_durations, ended_batches(reader, SPAN)))
            (part,) = write_csv(batches, folder, name="out.csv", tell=lambda _: None)
        else:
            checks = lines_of_checks(reader, SPAN)
            (part,) = write_csv_lines(checks, (), folder, name="out.csv", tell=lambda _: None)
    store.close()
    return {"rows": part.rows, "bytes": part.size, "wall": time.perf_counter() - began}


def measured(words: list[str], out: Path) -> tuple[float, float, int]:
    """Seconds of a processor, seconds by the clock and MiB of a process."""
    began = time.perf_counter()
    with out.open("wb") as into, subprocess.Popen(words, stdout=into) as process:
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, words[:3]
    return used.ru_utime + used.ru_stime, time.perf_counter() - began, used.ru_maxrss // 1024


def main() -> None:
    """Both sides in turn, some rounds of them."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        file = folder / "store.sqlite3"
        address = f"sqlite:///{file}"
        migrate(address)
        fill(file, count)
        store = open_store(address)
        with store.read() as reader:
            text = reader.flat_source(SPAN).text
        store.close()
        sides = {"sqlite3 -csv": ["sqlite3", "-csv", "-header", str(file), text]}
        for side in ("as it is", "de-identified"):
            sides[side] = [sys.executable, "-m", "tests.bench.bench_exports", "--make", address, side]
        took: dict[str, list[tuple[float, float, int]]] = {side: [] for side in sides}
        for _ in range(ROUNDS):
            for side, words in sides.items():
                took[side].append(measured(words, folder / "out"))
        floor = median(cpu for cpu, _, _ in took["sqlite3 -csv"])
        for side, each in took.items():
            cpu, wall, most = (median(one[at] for one in each) for at in range(3))
            print(
                f"{side:14} {cpu:6.1f} s of a processor, {wall:6.1f} s, {most:4.0f} MiB, {cpu / floor:4.1f} x"
            )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--make"]:
        with tempfile.TemporaryDirectory() as made:
            print(json.dumps(make(sys.argv[2], Path(made), bared=sys.argv[3] == "de-identified")))
    else:
        main()
