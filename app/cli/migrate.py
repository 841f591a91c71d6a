"""Bring the database to this version of the program."""

import click

from app.cli.installation import settings
from app.storage import migrate as migrate_database


@click.command()
def migrate() -> None:
    """Bring the database to this version of the program; rules, units and keys stay as they are."""
    migrate_database(settings().database_url)
    click.echo("the database is as this version of the program needs it")
