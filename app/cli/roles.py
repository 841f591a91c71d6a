"""Print the SQL that gives a PostgreSQL server its two roles: the owner of the tables, and the program."""

import click

from app.cli.installation import fail, settings
from app.storage import roles_for

_ONE_FILE = (
    "SQLite has no roles: whoever may write the file may write all of it. Let the program's user alone reach "
    "its folder, and keep checkpoints elsewhere: `countersign verify --store` finds what was changed"
)
_ONE_ROLE = (
    "DATABASE_OWNER_URL: write the address of the same database with the role that owns its tables; "
    "DATABASE_URL names the program's"
)


@click.command()
def roles() -> None:
    """Print the SQL for an administrator of the server: `countersign roles | psql -d postgres`."""
    made = settings()
    text = roles_for(owner=made.owner_url, program=made.database_url)
    if text is None:
        fail(_ONE_FILE)
    if not text:
        fail(_ONE_ROLE)
    click.echo(text, nl=False)
