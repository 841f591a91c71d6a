"""The first migration, and what it kept: rows written by 0001 are carried through every later migration.

The pattern for a later one: a file `test_migration_NNNN.py` with what it must do to these rows, and, where it
adds a table, rows of it in a file of its own. That what was released verifies is asked in `tests/samples`.
"""

from pathlib import Path

from alembic import command
from sqlalchemy import select

from app.storage import migrate, open_store, tables
from app.storage.migrate import alembic_config
from tests.samples.rows import write_rows
from tests.storage import builders as build
from tests.storage.builders import later
from tests.storage.conftest import engine_of

ROWS = Path(__file__).with_name("rows_0001.json")


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
            write_rows(connection, ROWS)
    migrate(empty_database_url)
    opened = open_store(empty_database_url)
    with opened.read() as reader:
        assert reader.find_check("check-1") == build.check()
        unit = reader.find_unit("ward-5")
        assert unit is not None
        assert unit.name == "Ward 5"
        assert reader.participants("check-1") == (build.participant(1), build.participant(2))
        assert reader.readings("check-1") == (build.reading(1), build.reading(2))
        assert reader.comparisons("check-1") == (build.comparison(),)
        assert reader.frozen_records("check-1") == (build.frozen(),)
        assert [each.kid for each in reader.signatures("check-1")] == ["key of amari", "key of birk"]
        assert reader.find_pdf("check-1", 1) == build.pdf()
        assert reader.help_takers("check-1") == (build.help_taker(person="chidi"),)
        assert [person.id for person in reader.people()] == list(build.PEOPLE)
        assert reader.find_session("session of amari") == build.session()
        assert reader.drafts("check-1", 2, "amari") == {"sources": build.draft()}
        assert reader.published(at=later(1)) == {"packs": build.site_data()}
        (entry,) = reader.entries("check-1")
        assert (entry.position, entry.event) == (1, build.open_event())
        assert reader.head() == 1
    with opened.write() as tx:
        assert tx.append(build.open_event(), act=build.act(), check="check-1").position == 2
    opened.close()
