# ruff: noqa: ANN401  # values of any column
"""Twins of a whole database in which somebody changed the least that can be changed of one column.

What is changed is drawn from the schema: each column of each table that only grows, never a list by hand.
"""

import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Table

from tests.invariants.twins import (
    BY_CODE,
    BY_LOOK,
    GROWING,
    OF_WHAT_HAPPENED,
    Told,
    Twin,
    least_change,
    opened,
)

# Columns outside what is signed or logged, each with the reason.
EXCUSED = {
    "reading.id": "a name for the row alone: the log knows a reading by check, subject, round and slot",
    "join_code.digest": BY_CODE,
    "join_code.expires_at": BY_CODE,
    "access.position": BY_LOOK,
    "access.at": BY_LOOK,
    "access.person": BY_LOOK,
    "access.session": BY_LOOK,
    "access.what": BY_LOOK,
}

COLUMNS = [f"{table}.{column.name}" for table, each in GROWING.items() for column in each.columns]


def test_every_excuse_is_of_a_column_that_is_there() -> None:
    assert set(EXCUSED) <= set(COLUMNS)


@pytest.mark.parametrize("column", COLUMNS)
def test_the_least_change_of_a_column_is_seen_and_named(twin: Twin, column: str) -> None:
    table, name = column.split(".")
    check = _change_one(twin.file, GROWING[table], name)
    # With a checkpoint of the newest entries too: of these no row may tell.
    found = twin.failing(checkpoint=twin.told.kept.last)
    if column in EXCUSED:
        assert found == [], "this column is seen: it needs no excuse"
        return
    named = {each.about for each in found}
    checks = {each.check for each in found if each.check}
    # Of an entry that is younger than every kept checkpoint, the one kept outside alone may tell.
    by_checkpoint = table == "log_entry" and "the checkpoint given.root" in named
    by_table = any(each == table or each.startswith(f"{table}.") for each in named)
    assert by_checkpoint or by_table or check in checks, found


def _change_one(file: Path, table: Table, name: str) -> str | None:
    """Change one value that is there by the least of its kind, where no key forbids it; the row's check."""
    with closing(opened(file)) as connection:
        of_check = "id" if table.name == "check" else '"check"' if "check" in table.c else "NULL"
        rows = connection.execute(
            f'SELECT rowid, "{name}", {of_check} '  # noqa: S608  # names of the schema
            f'FROM "{table.name}" WHERE "{name}" IS NOT NULL AND {OF_WHAT_HAPPENED.get(table.name, "1")} '
            "ORDER BY rowid DESC"
        ).fetchall()
        for rowid, value, check in rows:
            try:
                connection.execute(
                    f'UPDATE "{table.name}" SET "{name}" = ? WHERE rowid = ?',  # noqa: S608  # as above
                    (least_change(value), rowid),
                )
            except sqlite3.IntegrityError:
                continue
            connection.commit()
            return None if check is None else str(check)
    raise AssertionError("nothing could be changed: the story has no such row")


# Inside a comparison, which is signed only once it has become a record.

_INSIDE = {
    "case": ("format", "case", "answers", "versions"),
    "result": (
        "format",
        "verdict",
        "engine",
        "not_judged",
        "findings",
        "math",
        "delivery",
        "plan",
        "running",
    ),
}


def test_the_names_inside_a_comparison_are_all_tried(told: Told) -> None:
    with closing(opened(told.file)) as connection:
        case, result = connection.execute(
            "SELECT \"case\", result FROM comparison WHERE subject = 'sources' LIMIT 1"
        ).fetchone()
    assert set(json.loads(case)) == set(_INSIDE["case"])
    # The salt tells nothing by itself: a finding's name is made with it.
    assert set(json.loads(result)) - {"salt"} == set(_INSIDE["result"])


@pytest.mark.parametrize(
    ("column", "name"), [(column, name) for column, names in _INSIDE.items() for name in names]
)
def test_a_value_inside_the_comparison_of_a_check_that_was_given_up(
    twin: Twin, column: str, name: str
) -> None:
    """Nothing of it was ever signed: it is only computed again."""
    with closing(opened(twin.file)) as connection:
        rowid, check, content = connection.execute(
            f'SELECT rowid, "check", "{column}" FROM comparison '  # noqa: S608  # names of this file
            "WHERE subject = 'sources' ORDER BY rowid DESC LIMIT 1"
        ).fetchone()
        document = json.loads(content)
        assert _change_a_leaf(document, name)
        written = json.dumps(document, separators=(",", ":"), sort_keys=True, ensure_ascii=False)
        connection.execute(
            f'UPDATE comparison SET "{column}" = ? WHERE rowid = ?',  # noqa: S608  # as above
            (written.encode(), rowid),
        )
        connection.commit()
    assert check not in {twin.told.kept.first, twin.told.kept.second}
    assert check in {each.check for each in twin.failing()}


def _change_a_leaf(holder: Any, key: Any) -> bool:
    value = holder[key]
    if value == []:
        value.append("library")
        return True
    if isinstance(value, dict | list):
        keys: Iterable[Any] = list(value) if isinstance(value, dict) else range(len(value))
        return any(_change_a_leaf(value, each) for each in keys)
    if value is None:
        return False
    holder[key] = not value if isinstance(value, bool) else least_change(value)
    return True
