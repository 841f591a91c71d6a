"""Where nobody may be known: what becomes of the cells of CSV, within their quotes, column by column."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from functools import lru_cache

from app.records.exported_columns import Bared, Exported
from app.reports.deidentified import Deidentifier

# What is the same in several rows is moved, or named, once.
_KEPT = 4096

# What stands in a cell then, by what stood there and by how many days it is moved.
Change = Callable[[bytes, int], bytes]


def changes(bared: Deidentifier, columns: tuple[Exported, ...]) -> Iterator[tuple[int, Change]]:
    """The places of the columns that do not stay as they are, with what becomes of each."""
    for at, column in enumerate(columns):
        match bared.how(column):
            case Bared.KEPT:
                pass
            case Bared.SHIFTED:
                yield at, _shifted
            case Bared.PSEUDONYM:
                yield at, _naming(bared, column.name)
            case _:
                yield at, _left_out


def text_of(cell: bytes) -> str:
    """What stands within its quotes."""
    return cell[1:-1].decode().replace('""', '"')


def _left_out(_cell: bytes, _days: int) -> bytes:
    return b""


def _naming(bared: Deidentifier, name: str) -> Change:
    @lru_cache(_KEPT)
    def named(cell: bytes) -> bytes:
        return f'"{bared.pseudonym(name, text_of(cell))}"'.encode() if cell else cell

    return lambda cell, _days: named(cell)


def _shifted(cell: bytes, days: int) -> bytes:
    return b'"%b%b' % (_moved(cell[1:11], days), cell[11:]) if cell else cell


@lru_cache(_KEPT)
def _moved(day: bytes, days: int) -> bytes:
    return (date.fromisoformat(day.decode()) - timedelta(days)).isoformat().encode()
