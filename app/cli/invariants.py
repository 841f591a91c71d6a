"""Check the rules that never break, over everything that is stored."""

import sys

import click

from app.auditing.access_digest import changed_accesses
from app.auditing.invariants import check_invariants
from app.base.damage import Damaged, read_or_damaged
from app.cli.installation import DAMAGED, fail, now, open_site, settings
from app.records.formats import UnknownFormatError
from app.site.installation import Site
from app.storage import StoreUnavailable


@click.command()
def invariants() -> None:
    """Check that what is stored keeps the rules that never break; status 1 when one is broken."""
    site = open_site(settings(), only_reads=True)
    found = read_or_damaged(lambda: (check_invariants(site, now()), _changed_looks(site)))
    if isinstance(found, Damaged):
        if isinstance(found.error, StoreUnavailable | UnknownFormatError):
            raise found.error
        fail(f"{DAMAGED} ({found.kind}): `countersign verify --store` says more of it")
    broken, looks = found
    for each in broken:
        about = f"check {each.check}" if each.check else "the site"
        click.echo(f"BROKEN {each.invariant.value}: {about}: {each.what}")
    for place in looks:
        click.echo(f"BROKEN list of looks: up to its place {place} it is not what the log says")
    if broken or looks:
        sys.exit(1)
    click.echo("all of them hold")


def _changed_looks(site: Site) -> tuple[int, ...]:
    with site.store.read() as reader:
        return changed_accesses(reader)
