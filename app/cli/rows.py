"""`countersign rows`: make the flat rows of findings and of ended checks again."""

import sys

import click

from app.cli.installation import now, open_site, settings
from app.site.installation import Site
from app.storage import empty_flat_rows
from app.workflow.flat_rows import make_rows


@click.command()
@click.option("--anew", is_flag=True, help="Take all of them away first: also those that say something else.")
def rows(*, anew: bool) -> None:
    """Make the rows of findings and of ended checks again, from what is stored of each check.

    Lists, trends and exports read them. Whatever is missing is added, at any time. One that says something
    else stays as it is, for somebody changed it: it is named, and the command ends with status 1; --anew
    makes all of them again, as the owner of the database. Keep a copy of it first.
    """
    made = settings()
    site = open_site(made)
    if anew:
        empty_flat_rows(made.migration_url, program=made.database_url)
    if not say_rows(site):
        sys.exit(1)


def say_rows(site: Site) -> bool:
    """Add what is missing and say how much; whether all that was there is right."""
    checks, added, wrong = 0, 0, 0
    for each in make_rows(site, now()):
        checks, added = checks + 1, added + each.added
        if not each.is_right:
            wrong += 1
            click.echo(f"DIFFERS  check {each.check}: `countersign verify --store` says where")
    click.echo(f"{checks} checks: {added} rows were missing and were added")
    return not wrong
