"""What the first look at the log's tree costs after a start, beside reading the whole log.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_restart.py [ENTRIES]`.
"""

import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from app.auditing.checkpointing import HistoryChanged, make_checkpoint
from app.keys import load_site_keys
from app.records.events import SecurityNoted
from app.site.log_tree import LogTree
from app.storage import migrate
from tests.story.ward import Ward, open_ward

ENTRIES = 2_600_000
# Of what reading the whole log takes.
AIM = 0.1


def fill(file: Path, ward: Ward, entries: int) -> None:
    """Entries as they are written, behind the ward's own: one is, and the others are copies of its size."""
    with ward.site.store.write() as tx:
        last = tx.append(SecurityNoted(person="nadia", what="a wrong secret"), at=ward.now)
    columns = 'position, "at", "by", session, device, kind, canonical'
    with closing(sqlite3.connect(file)) as connection:
        (row,) = connection.execute(
            f"SELECT {columns} FROM log_entry WHERE position = ?",  # noqa: S608  # as just said
            (last.position,),
        )
        # Told by hand, and not one after the other: the rules of the table would be asked for each.
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        more = (
            (position, *row[1:-1], row[-1].replace(b"nadia", f"p{position}".encode()))
            for position in range(last.position + 1, entries + 1)
        )
        connection.executemany(f"INSERT INTO log_entry ({columns}) VALUES (?, ?, ?, ?, ?, ?, ?)", more)  # noqa: S608
        connection.execute("UPDATE log_head SET size = ?", (entries,))
        connection.commit()


def first_look(ward: Ward, tree: LogTree) -> tuple[float, str | None]:
    """CPU seconds for the root and for the place of the first entry, and the root."""
    begun = time.process_time()
    with ward.site.store.read() as reader:
        head = reader.head()
        root = tree.find_root(reader, head)
        tree.place(reader, 1, head)
    return time.process_time() - begun, root


def main() -> int:
    """Measure, print side by side, and say whether the aim is kept."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else ENTRIES
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "long.sqlite3"
        migrate(f"sqlite:///{file}")
        with open_ward(f"sqlite:///{file}") as ward:
            fill(file, ward, entries)
            made = make_checkpoint(ward.site, load_site_keys(ward.site.site_keys, ward.now), ward.now)
            assert not isinstance(made, HistoryChanged)
            whole, root = first_look(ward, LogTree(anew=True))
            start, same = first_look(ward, LogTree())
    assert root == same
    print(f"{entries} entries: the whole log {whole:.2f} s, a start {start:.2f} s ({start / whole:.1%})")
    return 0 if start / whole <= AIM else 1


if __name__ == "__main__":
    sys.exit(main())
