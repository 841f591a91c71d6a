"""Bring the database to this version of the program."""

from contextlib import closing

import click

from app.cli.installation import fail, settings
from app.config import Settings
from app.keys import load_key
from app.site.installation import application_key_fault
from app.storage import Schema, find_schema, open_store
from app.storage import migrate as migrate_database


@click.command()
def migrate() -> None:
    """Bring the database to this version of the program; rules, units and keys stay as they are."""
    made = settings()
    _refuse_foreign(made)
    migrate_database(made.migration_url, program=made.database_url)
    click.echo("the database is as this version of the program needs it")


def _refuse_foreign(made: Settings) -> None:
    """Another installation's database is not what was meant, where the application key is at hand."""
    if not made.key_file.exists() or find_schema(made.migration_url) is Schema.NONE:
        return
    with closing(open_store(made.migration_url)) as store, store.read() as reader:
        fault = application_key_fault(reader, load_key(made.key_file))
    if fault:
        fail(fault)
