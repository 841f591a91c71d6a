"""Check the rules that never break, over everything that is stored."""

import sys

import click

from app.auditing.access_digest import changed_accesses
from app.auditing.invariants import check_invariants
from app.cli.installation import now, open_site, settings


@click.command()
def invariants() -> None:
    """Check that what is stored keeps the rules that never break; status 1 when one is broken."""
    site = open_site(settings(), only_reads=True)
    broken = check_invariants(site, now())
    with site.store.read() as reader:
        looks = changed_accesses(reader)
    site.store.close()
    for each in broken:
        about = f"check {each.check}" if each.check else "the site"
        click.echo(f"BROKEN {each.invariant.value}: {about}: {each.what}")
    for place in looks:
        click.echo(f"BROKEN list of looks: up to its place {place} it is not what the log says")
    if broken or looks:
        sys.exit(1)
    click.echo("all twelve hold")
