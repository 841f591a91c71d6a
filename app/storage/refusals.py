"""From a database's refusal to the name of the rule it kept, the same name on both engines."""

import re
from collections.abc import Mapping
from typing import Any

from sqlalchemy import (
    Connection,
    ForeignKeyConstraint,
    PrimaryKeyConstraint,
    Table,
    UniqueConstraint,
    select,
)
from sqlalchemy.exc import IntegrityError

from app.storage.tables import metadata

_SQLITE_UNIQUE = re.compile(r"UNIQUE constraint failed: (?P<columns>.+)")
_SQLITE_CHECK = re.compile(r"CHECK constraint failed: (?P<name>\w+)")
_SQLITE_NOT_NULL = re.compile(r"NOT NULL constraint failed: (?P<column>.+)")
_SQLITE_FOREIGN_KEY = "FOREIGN KEY constraint failed"


class ConstraintBroken(Exception):  # noqa: N818  # named for what happened
    """The database refused a row; `name` is the constraint or trigger that did. The transaction is spent."""

    def __init__(self, name: str) -> None:
        """Keep the name alone: a driver's own message may quote the row."""
        super().__init__(name)
        self.name = name


def broken_constraint(
    error: IntegrityError, connection: Connection, table: Table, row: Mapping[str, Any]
) -> str:
    """The name of the constraint that `error` reports; `table` and `row` say what was being added."""
    diagnosis = getattr(error.orig, "diag", None)
    if diagnosis is not None:
        return diagnosis.constraint_name or f"not null: {diagnosis.table_name}.{diagnosis.column_name}"
    said = str(error.orig)
    if said == _SQLITE_FOREIGN_KEY:
        return _missing_parent(connection, table, row)
    return _named_in(said)


def _named_in(said: str) -> str:
    if match := _SQLITE_UNIQUE.fullmatch(said):
        return _unique_over(match["columns"])
    if match := _SQLITE_CHECK.fullmatch(said):
        return match["name"]
    if match := _SQLITE_NOT_NULL.fullmatch(said):
        return f"not null: {match['column']}"
    return said  # a trigger says its own name


def _unique_over(said_columns: str) -> str:
    """SQLite names the columns of a unique constraint, never the constraint."""
    columns = [each.split(".", 1) for each in said_columns.split(", ")]
    table = metadata.tables[columns[0][0]]
    uniques = [
        each for each in table.constraints if isinstance(each, UniqueConstraint | PrimaryKeyConstraint)
    ]
    names = {tuple(column.name for column in each.columns): str(each.name) for each in uniques}
    return names[tuple(column for _, column in columns)]


def _missing_parent(connection: Connection, table: Table, row: Mapping[str, Any]) -> str:
    """SQLite does not say which foreign key failed: the first one, by name, whose parent is not there."""
    missing = [
        str(constraint.name)
        for constraint in table.foreign_key_constraints
        if not _parent_exists(connection, constraint, row)
    ]
    return min(missing)


def _parent_exists(connection: Connection, constraint: ForeignKeyConstraint, row: Mapping[str, Any]) -> bool:
    pairs = [(each.column, row.get(each.parent.name)) for each in constraint.elements]
    if any(value in {None, ""} for _, value in pairs):
        return True
    parent = select(constraint.referred_table).where(*(column == value for column, value in pairs))
    return connection.execute(parent).first() is not None
