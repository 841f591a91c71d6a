"""Bring the database to this version of the program."""

from contextlib import closing

import click

from app.cli.installation import fail, open_site, settings
from app.cli.rows import say_rows
from app.config import Settings
from app.keys import load_key
from app.site.installation import Site, application_key_fault
from app.storage import Schema, find_schema, open_store
from app.storage import migrate as migrate_database


@click.command()
def migrate() -> None:
    """Bring the database to this version of the program; rules, units and keys stay as they are."""
    made = settings()
    _refuse_foreign(made)
    migrate_database(made.migration_url, program=made.database_url)
    click.echo("the database is as this version of the program needs it")
    if made.key_file.exists():
        _make_rows(open_site(made, only_reads=True))


def _make_rows(site: Site) -> None:
    """Of checks that ended before there were rows of them."""
    with site.store.read() as reader:
        lacks = reader.lacks_rows()
    if lacks:
        say_rows(site)


def _refuse_foreign(made: Settings) -> None:
    """Another installation's database is not what was meant, where the application key is at hand."""
    if not made.key_file.exists() or find_schema(made.migration_url) is Schema.NONE:
        return
    with closing(open_store(made.migration_url)) as store, store.read() as reader:
        fault = application_key_fault(reader, load_key(made.key_file))
    if fault:
        fail(fault)
