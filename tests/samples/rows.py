"""Rows that were written down once, put into a database of either engine."""

import json
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Boolean, Connection, DateTime, MetaData, Table, Text, insert, text

# Made by the migration itself; it goes on from what it has.
_HEAD = "log_head"


def write_rows(connection: Connection, file: Path) -> None:
    """Put a file's rows into a database; its own columns are asked, not those of the models."""
    found = MetaData()
    found.reflect(connection)
    for name, rows in json.loads(file.read_text(encoding="utf-8")).items():
        table = found.tables[name]
        for row in rows:
            if name == "log_entry":
                connection.execute(text("UPDATE log_head SET size = size + 1"))
            connection.execute(insert(table), _values(row, table))


def pour_store(file: Path, connection: Connection) -> None:
    """Put every row of an SQLite file into an empty PostgreSQL of the same revision, triggers asleep."""
    found = MetaData()
    found.reflect(connection)
    tables = [each for each in found.sorted_tables if each.name != "alembic_version"]
    for table in tables:
        connection.exec_driver_sql(f'ALTER TABLE "{table.name}" DISABLE TRIGGER USER')
    connection.execute(found.tables[_HEAD].delete())
    with closing(sqlite3.connect(file)) as kept:
        kept.row_factory = sqlite3.Row
        for table in tables:
            rows = kept.execute(f'SELECT * FROM "{table.name}" ORDER BY rowid')  # noqa: S608  # a table's name
            if values := [_values(dict(row), table) for row in rows]:
                connection.execute(insert(table), values)
    for table in tables:
        connection.exec_driver_sql(f'ALTER TABLE "{table.name}" ENABLE TRIGGER USER')


def revision_of(file: Path) -> str:
    """At which migration the file of a store stands."""
    with closing(sqlite3.connect(file)) as kept:
        return str(kept.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def _values(row: Mapping[str, Any], table: Table) -> dict[str, Any]:
    return {column: _value(written, table.c[column].type) for column, written in row.items()}


def _value(written: Any, column_type: object) -> Any:  # noqa: ANN401  # a value of any column
    if isinstance(written, dict):
        return bytes.fromhex(str(written["hex"])) * int(written.get("times", 1))
    if isinstance(column_type, DateTime) and written is not None:
        return datetime.fromisoformat(written)
    if isinstance(column_type, Boolean) and written is not None:
        return bool(written)
    if isinstance(column_type, Text) and written is not None:
        return str(written)
    return written
