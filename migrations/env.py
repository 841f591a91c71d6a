"""Run by Alembic for every command. `app.storage.migrate` hands in a connection, the command line does not.

A later migration that rebuilds a table on SQLite (Alembic's batch mode) loses the table's triggers: it must
create them again from `app.storage.triggers`. Tests compare triggers, constraints and columns.
"""

import os

from alembic import context
from sqlalchemy import Connection

from app.storage.engine import database_url, make_engine
from app.storage.tables import metadata


def run(connection: Connection) -> None:
    """Migrate over a connection, all or nothing."""
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        transaction_per_migration=False,
        compare_server_default=True,
    )
    with context.begin_transaction():
        context.run_migrations()


def run_on_command_line() -> None:
    """Migrate the database that DATABASE_URL names."""
    engine = make_engine(database_url(os.environ["DATABASE_URL"]))
    with engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            run(connection)
    engine.dispose()


given: Connection | None = context.config.attributes.get("connection")
if given is None:
    run_on_command_line()
else:
    run(given)
