"""Rows of the exported table from what the database has put together for each check (`export_lines`)."""

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import repeat

import pyarrow as pa
from pyarrow import compute

from app.records.exported_columns import CHECK, COLUMNS, FINDING, MARK, OF_CHECK, OF_FINDING, Holds
from app.reports.cells import BEGINS_LIKE_ONE, HIDES_ONE, guard

_MARK = MARK.encode()
_END = b"," * (len(COLUMNS) - 1 - len(OF_CHECK) - len(OF_FINDING)) + b"\r\n"
_NO_FINDING = b"," * len(OF_FINDING) + _END
_ROW = {what: f'"{what}",'.encode() for what in (CHECK, FINDING)}
# A cell within quotes or an empty one, and what stands behind it.
_CELL = re.compile(rb'("(?:[^"]|"")*"|)([,\x1e]|\Z)')


_IS_TEXT = [each.holds is Holds.TEXT for each in OF_CHECK], [each.holds is Holds.TEXT for each in OF_FINDING]
# What is the same in several rows is looked at once.
_KEPT = 4096

HEAD = ",".join(f'"{each.name}"' for each in COLUMNS).encode() + b"\r\n"


def rows_of(checks: list[bytes]) -> Iterator[list[bytes]]:
    """The rows of each check: one a finding, or its own."""
    texts = pa.array(checks, pa.string())
    hiding = compute.match_substring_regex(texts, HIDES_ONE).to_pylist()
    begun = compute.replace_substring_regex(texts, BEGINS_LIKE_ONE, r"\1'\2").cast(pa.binary()).to_pylist()
    for each, guarded, hides in zip(checks, begun, hiding, strict=True):
        count, _, cells = (guarded or b"").partition(_MARK)
        findings = int(count)
        if hides or cells.count(_MARK) != findings:
            *of_findings, of_check = _guarded(each.partition(_MARK)[2], findings)
        else:
            *of_findings, of_check = cells.split(_MARK)
        if of_findings:
            begin = _ROW[FINDING] + of_check + b","
            yield [begin + one + _END for one in of_findings]
        else:
            yield [_ROW[CHECK] + of_check + _NO_FINDING]


def _guarded(cells: bytes, findings: int) -> Iterator[bytes]:
    """The same parts, with each text as a spreadsheet may see it; one may hold the mark, too."""
    # Read on from part to part.
    each = (found[1] for found in _CELL.finditer(cells))
    of_check, of_finding = _IS_TEXT
    for texts in (*repeat(of_finding, findings), of_check):
        yield b",".join(_shown(cell) if is_text else cell for is_text, cell in zip(texts, each, strict=False))


@lru_cache(_KEPT)
def _shown(cell: bytes) -> bytes:
    if not cell:
        return cell
    text = guard(cell[1:-1].decode().replace('""', '"')).replace('"', '""')
    return f'"{text}"'.encode()
