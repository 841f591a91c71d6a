"""The third migration: tables of flat rows, which begin empty and are carried from here on."""

from pathlib import Path

from alembic import command

from app.storage import migrate, open_store
from app.storage.migrate import alembic_config
from tests.samples.rows import write_rows
from tests.storage import row_builders as flat
from tests.storage.conftest import engine_of
from tests.storage.test_migration_0001 import ROWS as FIRST_ROWS
from tests.storage.test_migration_0002 import ROWS as SECOND_ROWS

# Rows as this migration keeps them; a later one must carry them.
ROWS = Path(__file__).with_name("rows_0003.json")


def test_its_rows_are_read_today_as_they_were_written(empty_database_url: str) -> None:
    with engine_of(empty_database_url) as engine, engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            config = alembic_config()
            config.attributes["connection"] = connection
            for revision, rows in (("0001", FIRST_ROWS), ("0002", SECOND_ROWS), ("0003", ROWS)):
                command.upgrade(config, revision)
                write_rows(connection, rows)
    migrate(empty_database_url)
    opened = open_store(empty_database_url)
    with opened.read() as reader:
        assert reader.finding_rows("check-1") == (flat.finding(),)
        assert reader.settled_rows("check-1") == (flat.settled(),)
        assert reader.reached_rows("check-1") == (flat.reached(),)
        assert reader.ended_rows("check-1") == (flat.ended(),)
        given = flat.reviewed(person="chidi", assigned_to="dara")
        assert reader.finding_reviews("check-1") == (given,)
        assert reader.classifications("check-1") == (flat.classified(person="dara"),)
    opened.close()
