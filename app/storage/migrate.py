"""Bringing a database to the schema of this version."""

import os
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from alembic import command
from alembic.config import Config

from app.config import root
from app.storage.engine import database_url, make_engine, sqlite_file
from app.storage.queue import file_lock

# Any number will do, as long as every process asks for the same.
_ADVISORY_LOCK = 7_283_001


def alembic_config() -> Config:
    """Alembic's configuration, made here so that it needs no file and no working folder."""
    config = Config()
    config.set_main_option("script_location", str(root() / "migrations").replace("%", "%%"))
    return config


def migrate(address: str) -> None:
    """Bring the database at an address up to date; two processes that try at once follow each other."""
    url = database_url(address)
    file = sqlite_file(url)
    with _alone(file):
        engine = make_engine(url)
        try:
            with engine.connect() as connection:
                connection.execution_options(writing=True)
                with connection.begin():
                    if file is None:
                        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})")
                    config = alembic_config()
                    config.attributes["connection"] = connection
                    command.upgrade(config, "head")
        finally:
            engine.dispose()


def _alone(file: Path | None) -> AbstractContextManager[None]:
    if file is None:
        return nullcontext()
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Made here so that nobody but its owner can read it; SQLite gives its side files the same rights.
    os.close(os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
    return file_lock(file.with_name(file.name + ".lock"))
