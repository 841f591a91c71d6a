"""The second migration: keys and checkpoints, which begin empty and are carried from here on."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import Connection, Engine

from app.records.checkpoint import Checkpoint
from app.storage import migrate, open_store
from app.storage.migrate import alembic_config
from tests.samples.rows import write_rows
from tests.storage import key_builders as keys
from tests.storage import rule_builders as rules
from tests.storage.conftest import engine_of
from tests.storage.test_migration_0001 import ROWS as ROWS_BEFORE

# Rows as this migration keeps them; a later one must carry them.
ROWS = Path(__file__).with_name("rows_0002.json")


def _upgrade(connection: Connection, revision: str) -> None:
    config = alembic_config()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


@pytest.fixture
def before(empty_database_url: str) -> Iterator[Engine]:
    """A database with rows, as the first migration left it."""
    with engine_of(empty_database_url) as engine:
        with engine.connect() as connection:
            connection.execution_options(writing=True)
            with connection.begin():
                _upgrade(connection, "0001")
                write_rows(connection, ROWS_BEFORE)
        yield engine


def test_its_rows_are_read_today_as_they_were_written(before: Engine, empty_database_url: str) -> None:
    with before.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            _upgrade(connection, "0002")
            write_rows(connection, ROWS)
    migrate(empty_database_url)
    opened = open_store(empty_database_url)
    with opened.read() as reader:
        unit = reader.find_unit("ward-5")
        assert unit is not None
        assert unit.name == "Ward 5 North"
        assert reader.find_key("key of amari") == keys.key("amari")
        assert reader.live_key("amari") == keys.key("amari")
        assert reader.live_key("birk") is None
        assert reader.find_issued_code("digest of amari's code") == keys.issued_code()
        assert reader.find_confirmation("key of amari") == keys.confirmation(statement=b"{}")
        assert list(reader.rows("key_retirement")) == [vars(keys.retirement("birk"))]
        assert reader.find_sealed("key of amari") == b"\x01\x02" * 60
        assert reader.site_keys() == (keys.site_key(),)
        assert reader.checkpoints() == (keys.checkpoint(signature="cd"),)
        assert isinstance(reader.latest_checkpoint(), Checkpoint)
        assert reader.find_proposal("proposal-1") == rules.proposal()
        assert reader.find_decision("proposal-1") == rules.decision()
    opened.close()
