from pathlib import Path

from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from app.config import root
from app.storage import migrate
from app.storage.tables import metadata


def test_migrations_are_numbered_without_a_gap_and_follow_one_another() -> None:
    scripts = ScriptDirectory.from_config(Config(toml_file=root() / "pyproject.toml"))
    oldest_first = list(scripts.walk_revisions())[::-1]
    numbers = [f"{number:04}" for number in range(1, len(oldest_first) + 1)]

    assert [script.revision for script in oldest_first] == numbers
    assert [script.down_revision for script in oldest_first] == [None, *numbers[:-1]]
    assert [Path(script.path).name.partition("_")[0] for script in oldest_first] == numbers


def test_the_migrations_make_the_tables_that_the_code_expects(empty_database_url: str) -> None:
    migrate(empty_database_url)
    engine = create_engine(empty_database_url)

    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_server_default": True})
        differences = compare_metadata(context, metadata)
    engine.dispose()

    assert differences == []


def test_a_fresh_database_is_already_migrated(database_url: str) -> None:
    engine = create_engine(database_url)

    with engine.connect() as connection:
        differences = compare_metadata(MigrationContext.configure(connection), metadata)
    engine.dispose()

    assert differences == []
