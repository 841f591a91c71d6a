"""The first migration, and what it kept: rows written by 0001 are carried through every later migration.

The pattern for a later one: a file `test_migration_NNNN.py` with what it must do to these rows, and, where it
adds a table, rows of it in a file of its own.
"""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from alembic import command
from sqlalchemy import Connection, DateTime, MetaData, Text, insert, select, text

from app.storage import migrate, open_store, tables
from app.storage.migrate import alembic_config
from tests.storage import builders as build
from tests.storage.builders import later
from tests.storage.conftest import engine_of

ROWS = Path(__file__).with_name("rows_0001.json")


def _value(written: Any, column_type: object) -> Any:  # noqa: ANN401  # a value of any column
    if isinstance(written, dict):
        return bytes.fromhex(written["hex"]) * written["times"]
    if isinstance(column_type, DateTime) and written is not None:
        return datetime.fromisoformat(written)
    if isinstance(column_type, Text) and written is not None:
        return str(written)
    return written


def write_rows(connection: Connection, file: Path = ROWS) -> None:
    """A file's rows as its migration had them; the columns are the database's, not those of the models."""
    found = MetaData()
    found.reflect(connection)
    for name, rows in json.loads(file.read_text(encoding="utf-8")).items():
        table = found.tables[name]
        for row in rows:
            if name == "log_entry":
                connection.execute(text("UPDATE log_head SET size = size + 1"))
            values = {column: _value(written, table.c[column].type) for column, written in row.items()}
            connection.execute(insert(table), values)


def test_it_starts_with_nothing_and_a_log_of_no_length(empty_database_url: str) -> None:
    migrate(empty_database_url)
    opened = open_store(empty_database_url)
    with opened.read() as reader:
        assert reader.head() == 0
        for name, table in tables.metadata.tables.items():
            rows = reader._connection.execute(select(table)).all()  # noqa: SLF001  # every table is looked at
            assert rows == ([(1, 0)] if name == "log_head" else [])
    opened.close()


def test_its_rows_are_read_today_as_they_were_written(empty_database_url: str) -> None:
    with engine_of(empty_database_url) as engine, engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            config = alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, "0001")
            write_rows(connection)
    migrate(empty_database_url)
    opened = open_store(empty_database_url)
    with opened.read() as reader:
        assert reader.find_check("check-1") == build.check()
        assert reader.participants("check-1") == (build.participant(1), build.participant(2))
        assert reader.readings("check-1") == (build.reading(1), build.reading(2))
        assert reader.comparisons("check-1") == (build.comparison(),)
        assert reader.frozen_records("check-1") == (build.frozen(),)
        assert len(reader.signatures("check-1")) == 2
        assert reader.find_pdf("check-1", 1) == build.pdf()
        assert reader.help_takers("check-1") == (build.help_taker(),)
        assert [person.id for person in reader.people()] == list(build.PEOPLE)
        assert reader.find_session("session of amari") == build.session()
        assert reader.find_draft("check-1", "sources", 2, "amari") == build.draft()
        assert reader.published(at=later(1)) == {"packs": build.site_data()}
        (entry,) = reader.entries("check-1")
        assert (entry.position, entry.event) == (1, build.open_event())
        assert reader.head() == 1
    with opened.write() as tx:
        assert tx.append(build.open_event(), act=build.act(), check="check-1").position == 2
    opened.close()
