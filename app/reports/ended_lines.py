"""Ended checks as JSON Lines: one canonical document a line, each of which says its own format."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from app.records.canonical import canonical
from app.records.exported import Ended
from app.records.exported_columns import COLUMNS, Bared, Holds
from app.records.formats import OUTSIDE
from app.reports.deidentified import Deidentifier

# The columns of the table by the names that they have in the rows themselves.
_BY_NAME = {each.of.rpartition(".")[2] or each.name: each for each in COLUMNS} | {
    each.name: each for each in COLUMNS
}


@dataclass(frozen=True, kw_only=True)
class Outside:
    """A stop, a refused baseline or a start without a check, as the columns of the table have it."""

    told: Mapping[str, Any]

    def document(self) -> dict[str, Any]:
        """As one JSON document."""
        said = {
            name: value.isoformat() if isinstance(value, datetime) else value
            for name, value in self.told.items()
        }
        return {"format": OUTSIDE.newest, **said}


def json_lines(
    ended: Iterable[Ended], outside: Iterable[Outside], bared: Deidentifier | None = None
) -> Iterator[bytes]:
    """Each check; behind it the record, byte for byte as both signed it, and what followed that.

    Where nobody may be known the record stays out: it holds free text, names and values of both.
    """
    for each in ended:
        if bared is not None:
            yield canonical(bare_document(each.document(), bared)) + b"\n"
            continue
        yield canonical(each.document()) + b"\n"
        for signed in (each.record, each.followed):
            if signed:
                yield signed + b"\n"
    for one in outside:
        document = one.document()
        yield canonical(bare_document(document, bared) if bared else document) + b"\n"


def bare_document(document: Mapping[str, Any], bared: Deidentifier) -> dict[str, Any]:
    """A document in which nobody is known, by the same rules as the table; what no rule names is left out."""
    days = timedelta(days=bared.days(document.get("patient") or document.get("infusion") or ""))
    return {"format": document["format"], **_bare(document, bared, days)}


def _bare(document: Mapping[str, Any], bared: Deidentifier, days: timedelta) -> dict[str, Any]:
    said: dict[str, Any] = {}
    for name, value in document.items():
        if name == "findings":
            said[name] = [_bare(each, bared, days) for each in value]
            continue
        column = _BY_NAME.get(name)
        how = bared.how(column) if column else Bared.LEFT_OUT
        if how is Bared.KEPT:
            said[name] = value
        elif how is Bared.PSEUDONYM:
            said[name] = bared.pseudonym(name, value)
        elif how is Bared.SHIFTED and column is not None and column.holds is Holds.TIME:
            said[name] = (datetime.fromisoformat(value) - days).isoformat() if value else value
    return said
