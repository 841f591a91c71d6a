# ruff: noqa: S608  # the attacks name the tables of the schema
"""What is kept is never changed: attacks by plain SQL on every table, generated from the schema."""

from typing import Any

import pytest
from sqlalchemy import Connection, Engine, Executable, Integer, Table, Text, select, text, update
from sqlalchemy.exc import IntegrityError

from app.storage import tables
from app.storage.columns import Reference
from app.storage.tables import MUTABLE
from app.storage.triggers import RULES
from tests.storage.breaches import CHANGES

TABLES = tables.metadata.tables
APPEND_ONLY = sorted(set(TABLES) - MUTABLE)
NEVER_DELETED = sorted({*APPEND_ONLY, "person", "log_head"})


# Rules about what may be added refuse these rows before the append-only triggers are asked.
SAYS_FIRST = {
    "checkpoint": "checkpoints_only_grow",
    "personal_key": "one_live_key_a_person",
    "unit_renamed": "unit_is_renamed_in_order",
}


def _contents(connection: Connection, table: Table) -> list[Any]:
    return sorted(tuple(row) for row in connection.execute(select(table)))


def _refused(engine: Engine, table: str, statement: Executable, says: str) -> None:
    """The statement is refused by the name, and the table is what it was."""
    with engine.connect() as connection:
        before = _contents(connection, TABLES[table])
    with engine.connect() as connection:
        connection.execution_options(writing=True)
        with pytest.raises(IntegrityError) as refusal:
            connection.execute(statement)
        connection.rollback()
    assert says in str(refusal.value.orig)
    with engine.connect() as connection:
        assert _contents(connection, TABLES[table]) == before


def _says(table: str) -> str:
    return f"{table}_is_never_deleted" if table in MUTABLE else f"{table}_is_append_only"


def test_the_list_of_what_may_change() -> None:
    """Rule 3: accounts, sessions, throttles, drafts and leases, nothing else; the log's head only counts.

    Of an account, the locked half of its key changes with its secret, and authenticators come and go.
    """
    account = {"person", "person_role", "personal_key_sealed", "authenticator"}
    sessions = {"session", "shift_session"}
    assert account | sessions | {"throttle", "draft", "lease", "log_head"} == MUTABLE


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_no_column_is_updated(filled: Engine, table: str) -> None:
    for column in TABLES[table].columns:
        # A column of another kind is set to what it holds: even what changes nothing is refused.
        value: object = column
        if isinstance(column.type, Integer):
            value = 7
        elif isinstance(column.type, Text | Reference):
            value = "changed"
        _refused(filled, table, update(TABLES[table]).values({column: value}), f"{table}_is_append_only")


@pytest.mark.parametrize("table", NEVER_DELETED)
def test_no_row_is_deleted(filled: Engine, table: str) -> None:
    _refused(filled, table, text(f'DELETE FROM "{table}"'), _says(table))


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_no_row_is_updated_by_inserting_it_again(filled: Engine, table: str) -> None:
    keys = ", ".join(f'"{column.name}"' for column in TABLES[table].primary_key)
    first = next(iter(TABLES[table].columns)).name
    upsert = (
        f'INSERT INTO "{table}" SELECT * FROM "{table}" WHERE 1 = 1 '
        f'ON CONFLICT ({keys}) DO UPDATE SET "{first}" = EXCLUDED."{first}"'
    )
    _refused(filled, table, text(upsert), SAYS_FIRST.get(table, f"{table}_is_append_only"))


@pytest.mark.parametrize("table", NEVER_DELETED)
def test_no_row_is_replaced(filled_sqlite: Engine, table: str) -> None:
    """SQLite's own way of overwriting a row while it inserts one."""
    replace = f'INSERT OR REPLACE INTO "{table}" SELECT * FROM "{table}"'
    _refused(filled_sqlite, table, text(replace), SAYS_FIRST.get(table, _says(table)))


def test_no_key_is_replaced_that_no_rule_about_new_ones_protects(filled_sqlite: Engine) -> None:
    replace = "INSERT OR REPLACE INTO personal_key SELECT * FROM personal_key WHERE person = 'dara'"
    _refused(filled_sqlite, "personal_key", text(replace), "personal_key_is_append_only")


def test_no_row_is_replaced_through_another_of_its_keys(filled_sqlite: Engine) -> None:
    """Birk holds slot 2; as holder of slot 1 he would push his own row out."""
    replace = (
        "INSERT OR REPLACE INTO participant VALUES ('check-1', 1, 'birk', '2026-03-01T22:15:00.000000Z')"
    )
    _refused(filled_sqlite, "participant", text(replace), "participant_is_append_only")


def test_replacing_is_why_recursive_triggers_are_on(filled_sqlite: Engine) -> None:
    """The twin: without the setting SQLite replaces the row and no trigger hears of it."""
    with filled_sqlite.connect() as connection:
        connection.exec_driver_sql("PRAGMA recursive_triggers = OFF")
        connection.commit()
        connection.execution_options(writing=True)
        connection.execute(text("INSERT OR REPLACE INTO unit VALUES ('ward-5', 'Renamed', 'renamed')"))
        assert connection.scalar(text("SELECT name FROM unit")) == "Renamed"
        connection.rollback()
        connection.invalidate()


@pytest.mark.parametrize("table", NEVER_DELETED)
def test_no_table_is_emptied_at_once(filled_postgresql: Engine, table: str) -> None:
    """TRUNCATE passes every trigger on rows, and CASCADE passes the foreign keys."""
    _refused(filled_postgresql, table, text(f'TRUNCATE "{table}" CASCADE'), _says(table))


@pytest.mark.parametrize("rule", sorted(CHANGES))
def test_what_may_change_changes_by_its_rule_only(filled: Engine, rule: str) -> None:
    """The log's head goes up by one; a login or staff number that could be changed could be another's."""
    table = next(each.table for each in RULES if each.name == rule)
    for *before, last in CHANGES[rule]:
        if not before:
            _refused(filled, table, text(last), rule)


def test_the_head_of_the_log_leaves_no_place_empty(filled: Engine) -> None:
    with filled.connect() as connection:
        connection.execution_options(writing=True)
        connection.execute(text("UPDATE log_head SET size = 2"))
        with pytest.raises(IntegrityError, match="log_head_goes_up_by_one"):
            connection.execute(text("UPDATE log_head SET size = 3"))
        connection.rollback()


@pytest.mark.parametrize("table", sorted(MUTABLE - {"person", "log_head"}))
def test_what_may_change_can_be_deleted(filled_anew: Engine, table: str) -> None:
    """The twin: the attacks above fail because of the triggers, not because of the attack."""
    with filled_anew.connect() as connection:
        connection.execution_options(writing=True)
        connection.execute(text(f'DELETE FROM "{table}"'))
        connection.commit()
        assert _contents(connection, TABLES[table]) == []


def test_without_its_triggers_a_table_can_be_changed(filled: Engine) -> None:
    """The twin of the attacks above, on one table."""
    on_table = " ON pdf" if filled.dialect.name == "postgresql" else ""
    with filled.connect() as connection:
        connection.execution_options(writing=True)
        for kind in ("update", "delete"):
            connection.execute(text(f"DROP TRIGGER pdf_refuses_{kind}{on_table}"))
        assert connection.execute(text("UPDATE pdf SET digest = 'changed'")).rowcount == 1
        assert connection.execute(text("DELETE FROM pdf")).rowcount == 1
        connection.rollback()
