"""The rows of a database as JSON, written down once and put into a database of either engine."""

import base64
import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Boolean, Connection, DateTime, MetaData, Text, insert, text

from app.storage import tables

# Who is at work just now, and what a migration makes by itself.
LEFT_OUT = frozenset({"session", "throttle", "draft", "lease", "log_head"})
# What triggers take only when what it rests on is there.
_RESTING = ("comparison", "frozen", "signature", "pdf", "checkpoint")
_TRUTHS = frozenset(
    f"{table.name}.{column.name}"
    for table in tables.metadata.tables.values()
    for column in table.columns
    if isinstance(column.type, Boolean)
)
# What is kept in a file of its own beside the rows.
LARGE = {"pdf.content": "record-{}.pdf"}


def write_rows(connection: Connection, file: Path) -> None:
    """Put a file's rows into a database; its own columns are asked, not those of the models."""
    found = MetaData()
    found.reflect(connection)
    for name, rows in json.loads(file.read_text(encoding="utf-8")).items():
        table = found.tables[name]
        for row in rows:
            if name == "log_entry":
                connection.execute(text("UPDATE log_head SET size = size + 1"))
            values = {
                column: _value(written, table.c[column].type, file.parent) for column, written in row.items()
            }
            connection.execute(insert(table), values)


def _value(written: Any, column_type: object, folder: Path) -> Any:  # noqa: ANN401  # a value of any column
    if isinstance(written, dict):
        return _bytes(written, folder)
    if isinstance(column_type, DateTime) and written is not None:
        return datetime.fromisoformat(written)
    if isinstance(column_type, Text) and written is not None:
        return str(written)
    return written


def _bytes(written: Mapping[str, Any], folder: Path) -> bytes:
    if "file" in written:
        return (folder / str(written["file"])).read_bytes()
    if "base64" in written:
        return base64.b64decode(written["base64"])
    times = int(written["times"])
    return bytes.fromhex(str(written["hex"])) * times


def keep_rows(connection: Connection, file: Path) -> None:
    """Write down the rows, in an order in which they can be put in again."""
    kept: dict[str, list[dict[str, Any]]] = {}
    others = [each for each in tables.metadata.sorted_tables if each.name not in _RESTING]
    for table in (*others, *(tables.metadata.tables[name] for name in _RESTING)):
        if table.name in LEFT_OUT:
            continue
        # As they are stored, not as the models read them: the file is an SQLite database.
        order = ", ".join(f'"{column.name}"' for column in table.primary_key)
        if table.name == "key_confirmation":
            # A key is confirmed with one that was confirmed before it: as they came.
            order = "rowid"
        stored = connection.exec_driver_sql(f'SELECT * FROM "{table.name}" ORDER BY {order}')  # noqa: S608
        kept[table.name] = [
            {name: _written(value, f"{table.name}.{name}", row, file.parent) for name, value in row.items()}
            for row in map(dict, stored.mappings())
        ]
    file.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def _written(value: Any, column: str, row: Mapping[str, Any], folder: Path) -> Any:  # noqa: ANN401  # as above
    if column in _TRUTHS:
        return bool(value)
    if not isinstance(value, bytes):
        return value
    if column in LARGE:
        name = LARGE[column].format(row["edition"])
        (folder / name).write_bytes(value)
        return {"file": name}
    return {"base64": base64.b64encode(value).decode()}
