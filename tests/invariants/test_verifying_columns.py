# ruff: noqa: ANN401  # values of any column
"""Twins of a whole database in which somebody changed the least that can be changed of one column.

What is changed is drawn from the schema: each column of each table, never a list by hand. Each change
is seen, or refused by the database, or listed with its reason: a sample in each run, the whole in `poe long`.
"""

import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Boolean, Table

from tests.invariants.twins import (
    BY_CODE,
    BY_DRAFT,
    BY_MOMENT,
    BY_SESSION,
    EVERY,
    OF_WHAT_HAPPENED,
    WHILE_IT_LASTS,
    Told,
    Twin,
    least_change,
    opened,
)
from tests.support.sampling import examples

# Columns outside what is signed or logged, each with the reason; `table.*` is all of a table.
EXCUSED = {
    "reading.id": "a name for the row alone: the log knows a reading by check, subject, round and slot",
    "log_head.id": "a rule of the table refuses it; without that rule nothing can be written any more",
    "join_code.digest": BY_CODE,
    "join_code.expires_at": BY_CODE,
    "session.*": BY_SESSION,
    "shift_session.*": BY_SESSION,
    "draft.*": BY_DRAFT,
    "throttle.*": WHILE_IT_LASTS,
    "authenticator.used_until": BY_MOMENT,
    "authenticator.sign_count": BY_MOMENT,
    "lease.*": WHILE_IT_LASTS,
}

COLUMNS = [f"{table}.{column.name}" for table, each in EVERY.items() for column in each.columns]
# Rows of each column, from the newest on; a run takes one.
ROWS = examples(sample=1, whole=12)


def excuse(column: str) -> str:
    """Why nobody sees a change of it; empty for what is seen."""
    return EXCUSED.get(column) or EXCUSED.get(f"{column.partition('.')[0]}.*", "")


def test_every_excuse_is_of_a_column_that_is_there() -> None:
    assert set(EXCUSED) <= set(COLUMNS) | {f"{table}.*" for table in EVERY}


@pytest.mark.parametrize("column", COLUMNS)
def test_the_least_change_of_a_column_is_seen_and_named_or_refused(twin: Twin, column: str) -> None:
    """In the newest row, and in some before it, each by itself."""
    table, name = column.split(".")
    whole = twin.file.read_bytes()
    tried = 0
    for number in range(ROWS):
        twin.file.write_bytes(whole)
        changed = change_one(twin.file, EVERY[table], name, past=number)
        if changed is None:
            break
        tried += 1
        if changed is not REFUSED:
            _is_seen(twin, column, changed)
    # Of what lasts for a moment there may be nothing at the end of the story.
    assert tried or excuse(column), "the story has no such row"


REFUSED = "refused by the database"


def _is_seen(twin: Twin, column: str, check: str) -> None:
    table = column.partition(".")[0]
    # With a checkpoint of the newest entries too: of these no row may tell.
    found = twin.failing(checkpoint=twin.told.kept.last)
    if excuse(column):
        assert found == [], "this column is seen: it needs no excuse"
        return
    named = {each.about for each in found}
    checks = {each.check for each in found if each.check}
    # Of an entry that is younger than every kept checkpoint, the one kept outside alone may tell.
    by_checkpoint = table == "log_entry" and "the checkpoint given.root" in named
    # Parts of an account are named with their person; without its head the log cannot be read.
    of_an_account = ("person_role", "personal_key_sealed", "authenticator")
    whose = {"log_head": "log_entry", **dict.fromkeys(of_an_account, "person")}
    tables = {table, whose.get(table, table)}
    by_table = any(each.partition(".")[0] in tables for each in named)
    assert by_checkpoint or by_table or check in checks, found


def change_one(file: Path, table: Table, name: str, *, past: int) -> str | None:
    """Change one value by the least of its kind, `past` so many rows; the row's check ("" for none).

    REFUSED where a key forbids it, and None where there are not so many rows.
    """
    with closing(opened(file)) as connection:
        of_check = "id" if table.name == "check" else '"check"' if "check" in table.c else "NULL"
        row = connection.execute(
            f'SELECT rowid, "{name}", {of_check} '  # noqa: S608  # names of the schema
            f'FROM "{table.name}" WHERE "{name}" IS NOT NULL AND {OF_WHAT_HAPPENED.get(table.name, "1")} '
            f"ORDER BY rowid DESC LIMIT 1 OFFSET {past}"
        ).fetchone()
        if row is None:
            return None
        rowid, value, check = row
        try:
            connection.execute(
                f'UPDATE "{table.name}" SET "{name}" = ? WHERE rowid = ?',  # noqa: S608  # as above
                (least_change(value, is_boolean=isinstance(table.c[name].type, Boolean)), rowid),
            )
        except sqlite3.IntegrityError:
            return REFUSED
        connection.commit()
    return "" if check is None else str(check)


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
        "orders",
        "issued",
    ),
}


def test_the_names_inside_a_comparison_are_all_tried(told: Told) -> None:
    with closing(opened(told.file)) as connection:
        case, result = connection.execute(
            "SELECT \"case\", result FROM comparison WHERE subject = 'sources' LIMIT 1"
        ).fetchone()
    assert set(json.loads(case)) == set(_INSIDE["case"])
    # The salt tells nothing by itself: a finding's name is made with it. What is empty is not of a set-up.
    said = {name for name, value in json.loads(result).items() if value not in (None, {})}
    assert said - {"salt"} == set(_INSIDE["result"])


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
