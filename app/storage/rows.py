"""From rows to what `app.records` calls them."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType
from typing import Any, TypeVar

from sqlalchemy import Connection, Executable, RowMapping, Table

from app.records.events import from_data
from app.records.kept import Entry, FrozenRecord, KeptCheck, SiteData
from app.storage import tables

Kept = TypeVar("Kept")


@dataclass(frozen=True, kw_only=True)
class ClearedCheck:
    """A check that both have signed, when the second did, and the record they signed."""

    check: KeptCheck
    cleared_at: datetime
    record: FrozenRecord


@dataclass(frozen=True, kw_only=True)
class EndedCheck:
    """A check that was cleared, or abandoned, and when."""

    check: KeptCheck
    ended_at: datetime
    cleared: bool


def find_one(connection: Connection, kind: type[Kept], statement: Executable) -> Kept | None:
    """The first row as `kind`, whose fields are columns of the statement."""
    row = connection.execute(statement).mappings().first()
    return None if row is None else kind(**row)


def read_all(connection: Connection, kind: type[Kept], statement: Executable) -> tuple[Kept, ...]:
    """All rows as `kind`."""
    return tuple(kind(**row) for row in connection.execute(statement).mappings())


def as_row(kept: Any, table: Table) -> dict[str, Any]:  # noqa: ANN401  # any kept dataclass
    """The fields that are columns of the table."""
    return {each.name: getattr(kept, each.name) for each in fields(kept) if each.name in table.c}


def entry(row: RowMapping) -> Entry:
    """The log entry; its event is read from the canonical bytes, the only place where it is kept."""
    canonical: bytes = row["canonical"]
    event = from_data(row["kind"], json.loads(canonical)["data"])
    given = {name: row[name] for name in row if name != "kind"}
    return Entry(event=event, **given)


def site_data(row: RowMapping) -> SiteData:
    """The version; its content is kept as canonical JSON."""
    return SiteData(**{**row, "content": _published(row["content"])})


@lru_cache(maxsize=64)
def _published(content: bytes) -> Mapping[str, Any]:
    """Read once for all: every look at a check needs the library, the policy, the steps and the packs."""
    return MappingProxyType(json.loads(content))


def part(row: RowMapping, kind: type[Kept], table: Table, prefix: str) -> Kept:
    """One of several things in a row, whose columns were labelled with a prefix."""
    return kind(**{column.name: row[prefix + column.name] for column in table.c})


def cleared(row: RowMapping) -> ClearedCheck:
    """A row of the list of cleared checks."""
    return ClearedCheck(
        check=part(row, KeptCheck, tables.check, "check_"),
        cleared_at=row["cleared_at"],
        record=part(row, FrozenRecord, tables.frozen, "frozen_"),
    )
