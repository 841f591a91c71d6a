"""Exports that were asked for on the web, each in a folder of its own beneath that of the installation.

A folder holds what was asked (`asked.json`), how far it is (`progress`), how often it was begun (`begun`),
and, once all of it is written, `made` with the files and their manifest. Whoever makes it holds `lock`; what
was begun and not finished stands in `making`, and is never taken for a file. What is asked is fixed, so that
an export that is begun anew, or after the program was renewed, holds the same; a folder that this program
cannot read hides no other, and goes in its time.
"""

import fcntl
import json
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from pathlib import Path

from app.reports.manifest import ENDING

READINGS = "readings"
FORMS = ("csv", "jsonl", "parquet", "fhir", READINGS)
# What each file is called; on the web one file is taken, and Parquet is a folder of them.
_ENDINGS = {
    "csv": "csv",
    "jsonl": "jsonl",
    "parquet": "parquet.zip",
    "fhir": "fhir.json",
    "readings": "readings.csv",
}

# So many at once, however many ask; the others wait their turn.
AT_ONCE = 2
# A process that is killed so often on one export will be killed again.
TRIES = 3

_ID = re.compile(r"[A-Za-z0-9-]{1,64}")
_ASKED, _MADE, _MAKING, _LOCK, _PROGRESS, _BEGUN = "asked.json", "made", "making", "lock", "progress", "begun"


class Standing(StrEnum):
    """How far an export is."""

    WAITING = "waiting"
    MAKING = "making"
    MADE = "made"
    FAILED = "failed"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What somebody asked for: the days of the site, and the moments that these begin and end.

    `left_out` are the units and beds at which this person read blind. Nothing that ended after `at` is in it,
    so that it comes out the same whenever it is made.
    """

    export: str
    form: str
    first: date
    last: date
    zone: str
    ended_from: datetime
    ended_before: datetime
    deidentified: bool
    left_out: frozenset[tuple[str, str]]
    by: str
    at: datetime

    def content(self) -> bytes:
        """As it stands in its folder."""
        said = asdict(self) | {"left_out": sorted(self.left_out)}
        return json.dumps(said, default=lambda value: value.isoformat()).encode()

    @classmethod
    def read(cls, content: bytes) -> "Asked":
        """What `content` wrote."""
        said = json.loads(content)
        moments = {name: datetime.fromisoformat(said[name]) for name in ("ended_from", "ended_before", "at")}
        days = {name: date.fromisoformat(said[name]) for name in ("first", "last")}
        left_out = frozenset((unit, bed) for unit, bed in said["left_out"])
        return cls(**said | moments | days | {"left_out": left_out})


def name_of(asked: Asked) -> str:
    """What its file is called."""
    kind = "-de-identified" if asked.deidentified else ""
    return f"countersign{kind}-{asked.first.isoformat()}-to-{asked.last.isoformat()}.{_ENDINGS[asked.form]}"


@dataclass(frozen=True, kw_only=True)
class Job:
    """The folder of one export, and what was asked for."""

    folder: Path
    asked: Asked

    @property
    def made(self) -> Path:
        """Where the files stand once all of them are written."""
        return self.folder / _MADE

    @property
    def standing(self) -> Standing:
        """How far it is."""
        # Asked in this order: whoever makes it lets go once it is made.
        is_held = _is_held(self.folder / _LOCK)
        if self.made.exists():
            return Standing.MADE
        if is_held:
            return Standing.MAKING
        return Standing.FAILED if self._begun() >= TRIES else Standing.WAITING

    @property
    def progress(self) -> int:
        """How many rows or lines are written."""
        return _number(self.folder / _PROGRESS)

    def find_file(self) -> Path | None:
        """The file itself; None while it is not made."""
        there = sorted(self.made.iterdir()) if self.made.exists() else []
        return next((each for each in there if not each.name.endswith(ENDING)), None)

    @contextmanager
    def begin(self) -> Iterator[Path | None]:
        """An empty folder to write into, which is the export once this ends well; None where another does.

        What one wrote that was killed is thrown away: half a file is of no use to anybody.
        """
        with _held(self.folder / _LOCK) as is_ours:
            if not is_ours or self.made.exists():
                yield None
                return
            _write(self.folder / _BEGUN, str(self._begun() + 1).encode())
            making = self.folder / _MAKING
            shutil.rmtree(making, ignore_errors=True)
            making.mkdir(mode=0o700)
            yield making
            making.replace(self.made)

    def tell(self, rows: int) -> None:
        """How many rows or lines are written by now."""
        _write(self.folder / _PROGRESS, str(rows).encode())

    def remove(self) -> None:
        """All of it."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _begun(self) -> int:
        return _number(self.folder / _BEGUN)


def add_job(exports: Path, asked: Asked) -> Job:
    """The folder of an export that was asked for just now; nobody sees it half made."""
    exports.mkdir(mode=0o700, parents=True, exist_ok=True)
    new = exports / f".{asked.export}"
    new.mkdir(mode=0o700)
    _write(new / _ASKED, asked.content())
    return Job(folder=new.replace(exports / asked.export), asked=asked)


def find_job(exports: Path, export: str) -> Job | None:
    """An export by its id; none of which it cannot be read who asked for what."""
    return _readable(exports / export) if _ID.fullmatch(export) else None


def jobs(exports: Path) -> list[Job]:
    """All of them, the oldest first."""
    found = [job for job in map(_readable, folders(exports)) if job is not None]
    return sorted(found, key=lambda each: (each.asked.at, each.asked.export))


def folders(exports: Path) -> list[Path]:
    """Those of exports, and whatever a crash left of one before anybody could see it."""
    return [each for each in exports.iterdir() if each.is_dir()] if exports.exists() else []


def _readable(folder: Path) -> Job | None:
    """None where the folder is half made, damaged, gone by now, or another version's."""
    try:
        asked = Asked.read((folder / _ASKED).read_bytes())
    except (OSError, ValueError, LookupError, TypeError):
        return None
    return Job(folder=folder, asked=asked) if asked.export == folder.name else None


def find_turn(exports: Path) -> list[Job]:
    """Those that may be begun now, the oldest first."""
    standing = [(each, each.standing) for each in jobs(exports)]
    making = sum(each is Standing.MAKING for _, each in standing)
    waiting = [job for job, each in standing if each is Standing.WAITING]
    return waiting[: max(AT_ONCE - making, 0)]


def remove_old(exports: Path, now: datetime, kept: timedelta) -> None:
    """Remove what was asked for longer ago than it is kept, but for what is being made.

    Of what is no export, or none that can be read, the folder tells how old it is.
    """
    for folder in folders(exports):
        job = _readable(folder)
        if job is None:
            if _written_at(folder) + kept <= now:
                shutil.rmtree(folder, ignore_errors=True)
        elif job.asked.at + kept <= now and job.standing is not Standing.MAKING:
            job.remove()


def _written_at(folder: Path) -> datetime:
    with suppress(FileNotFoundError):
        return datetime.fromtimestamp(folder.stat().st_mtime, UTC)
    return datetime.max.replace(tzinfo=UTC)


@contextmanager
def take_turn(exports: Path) -> Iterator[bool]:
    """Whether this process is one of so many that make exports at once; it is until this ends."""
    for number in range(AT_ONCE):
        with _held(exports / f".turn-{number}") as is_ours:
            if is_ours:
                yield True
                return
    yield False


@contextmanager
def _held(file: Path) -> Iterator[bool]:
    """Whether a lock was free; it is held until this ends, or the process does."""
    descriptor = os.open(file, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        yield False
    else:
        yield True
    finally:
        os.close(descriptor)


def _is_held(file: Path) -> bool:
    if not file.exists():
        return False
    with _held(file) as was_free:
        return not was_free


def _write(file: Path, content: bytes) -> None:
    """Never seen half written."""
    half = file.with_name(f".{file.name}")
    half.touch(mode=0o600)
    half.write_bytes(content)
    half.replace(file)


def _number(file: Path) -> int:
    with suppress(FileNotFoundError, ValueError):
        return int(file.read_text(encoding="ascii"))
    return 0
