"""Migrations: the models and the migrations agree, triggers included, and what is old is carried across."""

import re
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect, text

from app.config import root
from app.storage import Store, migrate, open_store, tables
from app.storage.migrate import alembic_config
from app.storage.tables import MUTABLE
from app.storage.triggers import RULES, append_only, never_deleted
from tests.storage import builders as build
from tests.storage.conftest import engine_of

TABLES = tables.metadata.tables
REVISIONS = [script.revision for script in ScriptDirectory.from_config(alembic_config()).walk_revisions()]


def _alembic(connection: Connection, what: str, revision: str) -> None:
    config = alembic_config()
    config.attributes["connection"] = connection
    getattr(command, what)(config, revision)


def _triggers(connection: Connection) -> set[str]:
    if connection.dialect.name == "sqlite":
        return set(connection.scalars(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")))
    return set(connection.scalars(text("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")))


def _wanted_triggers(dialect: str) -> set[str]:
    """From the tables as they are now: whoever adds one and forgets its triggers is told here."""
    refusals = [append_only(table) for table in TABLES if table not in MUTABLE]
    refusals += [never_deleted(table) for table in ("person", "log_head")]
    return {rule.name for rule in RULES} | {name for each in refusals for name in each.names(dialect)}


def _schema(connection: Connection) -> dict[str, Any]:
    """Everything that a database says of its tables, whatever the order in which they were made."""
    found = inspect(connection)
    return {
        table: {
            "columns": {
                each["name"]: (str(each["type"]), each["nullable"], each["default"])
                for each in found.get_columns(table)
            },
            "primary key": found.get_pk_constraint(table),
            "unique": sorted(
                (str(u["name"]), u["column_names"]) for u in found.get_unique_constraints(table)
            ),
            "foreign keys": sorted(
                (
                    str(f["name"]),
                    f["constrained_columns"],
                    f["referred_table"],
                    f["referred_columns"],
                    f["options"],
                )
                for f in found.get_foreign_keys(table)
            ),
            "checks": sorted((str(c["name"]), c["sqltext"]) for c in found.get_check_constraints(table)),
            "indexes": sorted(
                (str(i["name"]), i["column_names"], i["unique"]) for i in found.get_indexes(table)
            ),
        }
        for table in found.get_table_names()
        if table != "alembic_version"
    }


def test_migrations_are_one_numbered_line() -> None:
    assert sorted(REVISIONS) == [f"{number:04}" for number in range(1, len(REVISIONS) + 1)]
    for file in (root() / "migrations" / "versions").glob("*.py"):
        assert re.fullmatch(r"\d{4}_[a-z_]+\.py", file.name), file.name


def test_every_migration_has_its_data_test() -> None:
    here = Path(__file__).parent
    assert [name for name in sorted(REVISIONS) if not (here / f"test_migration_{name}.py").exists()] == []


def test_the_models_are_what_the_migrations_make(empty_database_url: str) -> None:
    migrate(empty_database_url)
    with engine_of(empty_database_url) as engine, engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []


def test_the_models_made_directly_are_the_same_to_the_last_constraint(empty_database_url: str) -> None:
    """Alembic's own comparison sees neither check constraints nor the names of primary keys."""
    with engine_of(empty_database_url) as engine:
        with engine.begin() as connection:
            tables.metadata.create_all(connection)
            directly = _schema(connection)
            tables.metadata.drop_all(connection)
        migrate(empty_database_url)
        with engine.begin() as connection:
            assert _schema(connection) == directly
    assert set(directly) == set(TABLES)


def test_every_trigger_is_there_and_no_other(sql: Engine) -> None:
    with sql.connect() as connection:
        assert _triggers(connection) == _wanted_triggers(sql.dialect.name)


def test_down_and_up_again_step_by_step(empty_database_url: str) -> None:
    with engine_of(empty_database_url) as engine:
        for what, revision in [("upgrade", "+1"), ("downgrade", "-1"), ("upgrade", "+1")] * len(REVISIONS):
            with engine.connect() as connection:
                connection.execution_options(writing=True)
                with connection.begin():
                    if what == "upgrade" and _is_at_head(connection):
                        continue
                    _alembic(connection, what, revision)
        with engine.connect() as connection:
            assert _is_at_head(connection)
            assert _triggers(connection) == _wanted_triggers(engine.dialect.name)


def test_all_the_way_down_leaves_nothing(empty_database_url: str) -> None:
    migrate(empty_database_url)
    with engine_of(empty_database_url) as engine, engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            _alembic(connection, "downgrade", "base")
        with connection.begin():
            assert _schema(connection) == {}
            assert _triggers(connection) == set()
            if engine.dialect.name == "postgresql":
                left = "SELECT proname FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
                assert connection.scalars(text(left)).all() == []


def test_migrating_again_changes_nothing(store: Store, database_url: str) -> None:
    build.fill(store)
    migrate(database_url)
    with store.read() as reader:
        assert reader.find_check("check-1") == build.check()


def test_a_migration_that_fails_leaves_what_was_there(
    empty_database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rule 9: also when it breaks off just before its end."""

    def break_off(*_arguments: object) -> None:
        raise ConnectionAbortedError

    with monkeypatch.context() as patched:
        patched.setattr("app.storage.triggers.append_only", break_off)
        with pytest.raises(ConnectionAbortedError):
            migrate(empty_database_url)
    with engine_of(empty_database_url) as engine, engine.connect() as connection:
        assert _schema(connection) == {}
    migrate(empty_database_url)
    opened = open_store(empty_database_url)
    build.fill(opened)
    opened.close()


def _is_at_head(connection: Connection) -> bool:
    return MigrationContext.configure(connection).get_current_revision() == max(REVISIONS)
