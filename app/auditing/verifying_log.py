"""Read the whole log: without a gap, each entry as its columns say, and begun by every checkpoint."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from app.records.canonical import canonical
from app.records.checkpoint import Checkpoint
from app.records.formats import LOG_ENTRY, UnknownFormatError
from app.records.kept import Entry
from app.records.proofs import Tree
from app.records.store_verification import Failing, Noted, Progress, Step
from app.records.told_rows import Told, told_by
from app.records.written import from_data
from app.storage import Reader

# Acts that wait for each other keep the times at which they began; more than this is no waiting.
WAITING = timedelta(minutes=1)
# Entries between two words of progress.
OFTEN = 5000

_TIMES = ("at", "signed_in_at")
_COLUMNS = ("position", "by", "infusion", "check", "session", "device", "kind")


@dataclass
class LogRead:
    """The log's tree, and the rows of the whole site that the log tells of."""

    tree: Tree = field(default_factory=Tree)
    told: list[Told] = field(default_factory=list)

    def steps(self, reader: Reader) -> Iterator[Step]:
        """Read every entry once, in order."""
        before: datetime | None = None
        for number, row in enumerate(reader.rows("log_entry"), start=1):
            if row["position"] != number + self._missing:
                yield _of_entry(row, "log_entry.position", f"there is no entry {number + self._missing}")
                self._missing = row["position"] - number
            yield from self._entry(row)
            if before is not None and row["at"] < before - WAITING:
                yield Noted(position=row["position"], at=row["at"], before=before)
            before = row["at"]
            self.tree.extend([row["canonical"]])
            if number % OFTEN == 0:
                yield Progress(entries=number)
        if self.tree.size != reader.head():
            yield Failing(about="log_head.size", what="the log's head is not its last entry")

    # Entries that were found missing so far.
    _missing: int = 0

    def _entry(self, row: Mapping[str, Any]) -> Iterator[Failing]:
        try:
            written = json.loads(row["canonical"])
            entry = _entry_of(row, written)
            one_form = canonical(written) == row["canonical"]
        except UnknownFormatError as unknown:
            yield _of_entry(row, "log_entry.canonical", unknown.says)
            return
        except Exception as error:  # noqa: BLE001  # what is damaged may fail in any way, and is to be named
            yield _of_entry(row, "log_entry.canonical", f"it cannot be read: {type(error).__name__}")
            return
        if not one_form:
            yield _of_entry(row, "log_entry.canonical", "it is not in the one form of an entry")
        for name in _differing(row, written):
            yield _of_entry(row, f"log_entry.{name}", f"entry {row['position']} says something else")
        told = None if entry.check else told_by(entry)
        if told is not None:
            self.told.append(told)


def _entry_of(row: Mapping[str, Any], written: Mapping[str, Any]) -> Entry:
    LOG_ENTRY.version_of(written)
    event = from_data(written["kind"], written["data"])
    return Entry(event=event, **{name: value for name, value in row.items() if name != "kind"})


def _differing(row: Mapping[str, Any], written: Mapping[str, Any]) -> Iterator[str]:
    yield from (name for name in _COLUMNS if row[name] != written.get(name))
    for name in _TIMES:
        said = written.get(name)
        if row[name] != (None if said is None else datetime.fromisoformat(said)):
            yield name


def _of_entry(row: Mapping[str, Any], about: str, what: str) -> Failing:
    return Failing(check=row["check"], about=about, what=f"at {row['position']}: {what}")


def begun_by(
    tree: Tree, checkpoints: Iterable[Checkpoint], signed: Callable[[Checkpoint], bool], *, about: str
) -> Iterator[Failing]:
    """Every checkpoint that the site did not sign, or that is not of a beginning of this log."""
    for each in checkpoints:
        named = f"the one of {each.size} entries"
        if not signed(each):
            yield Failing(about=f"{about}.signature", what=f"{named} is not as the site signed it")
        elif not 0 <= each.size <= tree.size:
            yield Failing(about=f"{about}.size", what=f"{named}: the log has {tree.size}, some were cut off")
        elif tree.root(each.size).hex() != each.root:
            yield Failing(about=f"{about}.root", what=f"{named}: an earlier entry was changed or moved")
