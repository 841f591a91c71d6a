"""Read the whole log: without a gap, each entry as its columns say, and begun by every checkpoint.

The entries of a check that is verified are read once, with all else of that check: here they are only hashed.
"""

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from app.base.damage import Damaged, until_damaged
from app.records.canonical import canonical
from app.records.checkpoint import Checkpoint
from app.records.formats import LOG_ENTRY, UnknownFormatError
from app.records.kept import Entry
from app.records.proofs import Tree
from app.records.store_verification import Failing, Noted, Progress, Step
from app.records.told_rows import Told, told_by
from app.records.written import entry_content, from_data
from app.storage import Reader

# Acts that wait for each other keep the times at which they began; more than this is no waiting.
WAITING = timedelta(minutes=1)
# Entries between two words of progress.
OFTEN = 5000

_TIMES = ("at", "signed_in_at")
_COLUMNS = ("position", "by", "infusion", "check", "session", "device", "kind")


@dataclass
class LogRead:
    """The log's tree, and the rows of the whole site that the log tells of.

    `elsewhere` are the checks whose entries are held against their columns where the check is verified.
    """

    elsewhere: Collection[str] = ()
    tree: Tree = field(default_factory=Tree)
    told: list[Told] = field(default_factory=list)

    def steps(self, reader: Reader) -> Iterator[Step]:
        """Read every entry once, in order."""
        before: datetime | None = None
        for number, row in enumerate(reader.rows("log_entry"), start=1):
            if row["position"] != number + self._missing:
                what = f"there is no entry {number + self._missing}"
                yield _of_entry(row["check"], row["position"], "position", what)
                self._missing = row["position"] - number
            if row["check"] not in self.elsewhere:
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
        found = read_row(row)
        if isinstance(found, Failing):
            yield found
            return
        yield from differing_entry(found)
        told = None if found.check else told_by(found)
        if told is not None:
            self.told.append(told)


def read_row(row: Mapping[str, Any]) -> Entry | Failing:
    """A row of the log as an entry."""
    try:
        return _entry_of(row)
    except UnknownFormatError as unknown:
        return _of_entry(row["check"], row["position"], "canonical", unknown.says)
    except Exception as error:  # noqa: BLE001  # what is damaged may fail in any way, and is to be named
        what = f"it cannot be read: {type(error).__name__}"
        return _of_entry(row["check"], row["position"], "canonical", what)


def differing_entry(entry: Entry) -> Iterator[Failing]:
    """What of an entry is not as its columns say, or not in the one form.

    Written again from its columns and its event it is the same bytes, or it is looked into.
    """
    if entry_content(entry) == entry.canonical:
        return
    for found in until_damaged(partial(_differing, entry)):
        column, what = found if not isinstance(found, Damaged) else ("canonical", found.says)
        yield _of_entry(entry.check, entry.position, column, what)


def _differing(entry: Entry) -> Iterator[tuple[str, str]]:
    written = json.loads(entry.canonical)
    if canonical(written) != entry.canonical:
        yield "canonical", "it is not in the one form of an entry"
    said = {name: value for name, value in written.items() if name in _COLUMNS}
    for name in _TIMES:
        at = written.get(name)
        said[name] = None if at is None else datetime.fromisoformat(at)
    columns = {**vars(entry), "kind": entry.event.kind}
    for name in (*_COLUMNS, *_TIMES):
        if columns[name] != said.get(name):
            yield name, f"entry {entry.position} says something else"


def _entry_of(row: Mapping[str, Any]) -> Entry:
    written = json.loads(row["canonical"])
    LOG_ENTRY.version_of(written)
    event = from_data(row["kind"], written["data"])
    return Entry(event=event, **{name: value for name, value in row.items() if name != "kind"})


def _of_entry(check: str, position: int, column: str, what: str) -> Failing:
    return Failing(check=check, about=f"log_entry.{column}", what=f"at {position}: {what}")


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
