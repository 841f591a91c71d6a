"""The exported table as CSV: what the database puts together for each check, and what was done outside.

As bytes, cell by cell only where a cell may change: an object for each value costs several times what the
database's own output does.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Any

from app.records.exported_columns import CHECK, COLUMNS, FINDING, MARK, OF_CHECK, OF_FINDING, Holds
from app.reports.bare_cells import Change, changes, text_of
from app.reports.cells import guard, may_need_guard
from app.reports.deidentified import Deidentifier
from app.reports.hashed_file import HashedFile, Tell
from app.reports.manifest import Part

_MARK = MARK.encode()
_END = b"," * (len(COLUMNS) - 1 - len(OF_CHECK) - len(OF_FINDING)) + b"\r\n"
_NO_FINDING = b"," * len(OF_FINDING) + _END
_ROW = {what: f'"{what}",'.encode() for what in (CHECK, FINDING)}
# A cell within quotes or an empty one, and what stands behind it.
_CELL = re.compile(rb'("(?:[^"]|"")*"|)([,\x1e]|\Z)')
# What is the same in several rows is looked at once.
_KEPT = 4096
# By whom the days are moved: the patient, or the infusion where no wristband was read.
_WHOSE = ("infusion", "patient")

HEAD = ",".join(f'"{each.name}"' for each in COLUMNS).encode() + b"\r\n"


@dataclass(frozen=True, kw_only=True)
class _Group:
    """Columns beside each other: where is text, whose they are, and what changes if nobody may be known."""

    width: int
    texts: tuple[int, ...]
    whose: tuple[int, ...]
    changes: tuple[tuple[int, Change], ...]

    def row_of(self, cells: list[bytes], *, days: int, is_guarded: bool) -> bytes:
        """What is shown of its cells."""
        for at, change in self.changes:
            cells[at] = change(cells[at], days)
        if is_guarded:
            for at in self.texts:
                cells[at] = _without_formula(cells[at])
        return b",".join(cells)


def write_csv(
    checks: Iterable[list[bytes]],
    outside: Iterable[Mapping[str, Any]],
    folder: Path,
    *,
    name: str,
    tell: Tell,
    bared: Deidentifier | None = None,
) -> tuple[Part, ...]:
    """One table (RFC 4180, UTF-8, every value quoted; what is not known is empty)."""
    with HashedFile(folder, name) as file:
        file.write(HEAD)
        for some in checks:
            rows = [row for each in rows_of(some, bared) for row in each]
            file.write(b"".join(rows))
            file.rows += len(rows)
            tell(file.rows)
        for told in outside:
            file.write(row_of(told, bared))
            file.rows += 1
        tell(file.rows)
    return (file.part,)


def rows_of(checks: list[bytes], bared: Deidentifier | None = None) -> Iterator[list[bytes]]:
    """The rows of each check: one a finding, or its own; `bared` where nobody may be known in them."""
    check, finding, _ = _groups(bared)
    for each in checks:
        count, _, cells = each.partition(_MARK)
        findings = int(count)
        is_guarded = may_need_guard(cells)
        if bared is not None or is_guarded or cells.count(_MARK) != findings:
            groups = [finding] * findings + [check]
            parts = _parted(cells, groups)
            days = _days(bared, check, parts[-1])
            *of_findings, of_check = (
                group.row_of(part, days=days, is_guarded=is_guarded)
                for group, part in zip(groups, parts, strict=True)
            )
        else:
            *of_findings, of_check = cells.split(_MARK)
        if of_findings:
            begin = _ROW[FINDING] + of_check + b","
            yield [begin + one + _END for one in of_findings]
        else:
            yield [_ROW[CHECK] + of_check + _NO_FINDING]


def row_of(told: Mapping[str, Any], bared: Deidentifier | None = None) -> bytes:
    """The row of what was done outside of checks."""
    *_, every = _groups(bared)
    cells = [_written(told.get(each.name)) for each in COLUMNS]
    return every.row_of(cells, days=_days(bared, every, cells), is_guarded=True) + b"\r\n"


@lru_cache(2)
def _groups(bared: Deidentifier | None) -> tuple[_Group, ...]:
    return tuple(
        _Group(
            width=len(columns),
            texts=tuple(at for at, each in enumerate(columns) if each.holds is Holds.TEXT),
            whose=tuple(at for at, each in enumerate(columns) if each.name in _WHOSE),
            changes=tuple(changes(bared, columns)) if bared else (),
        )
        for columns in (OF_CHECK, OF_FINDING, COLUMNS)
    )


def _days(bared: Deidentifier | None, group: _Group, cells: list[bytes]) -> int:
    if bared is None:
        return 0
    infusion, patient = (text_of(cells[at]) for at in group.whose)
    return bared.days(patient or infusion)


def _parted(cells: bytes, groups: list[_Group]) -> list[list[bytes]]:
    """The cells of each finding and, last, of the check; one may hold the mark or a comma."""
    parts = [part.split(b",") for part in cells.split(_MARK)]
    widths = [group.width for group in groups]
    if list(map(len, parts)) == widths:
        return parts
    # Read on from part to part.
    each = (found[1] for found in _CELL.finditer(cells))
    return [list(islice(each, width)) for width in widths]


def _written(value: str | datetime | None) -> bytes:
    if value is None:
        return b""
    if isinstance(value, datetime):
        return f'"{value.astimezone(UTC):%Y-%m-%d %H:%M:%S.%fZ}"'.encode()
    doubled = value.replace('"', '""')
    return f'"{doubled}"'.encode()


@lru_cache(_KEPT)
def _without_formula(cell: bytes) -> bytes:
    """A text as a spreadsheet may see it."""
    if not may_need_guard(cell):
        return cell
    text = guard(text_of(cell)).replace('"', '""')
    return f'"{text}"'.encode()
