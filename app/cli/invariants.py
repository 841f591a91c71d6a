"""Check the rules that never break, over everything that is stored."""

import sys

import click

from app.cli.installation import now, open_site, settings
from app.workflow.invariants import check_invariants


@click.command()
def invariants() -> None:
    """Check that what is stored keeps the rules that never break; status 1 when one is broken."""
    site = open_site(settings())
    broken = check_invariants(site, now())
    site.store.close()
    for each in broken:
        about = f"check {each.check}" if each.check else "the log"
        click.echo(f"BROKEN {each.invariant.value}: {about}: {each.what}")
    if broken:
        sys.exit(1)
    click.echo("all twelve hold")
