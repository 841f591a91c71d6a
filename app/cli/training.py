"""`countersign training`: make a copy of an installation one of its own, for training."""

from pathlib import Path

import click

from app.auditing.checkpointing import missing_site_keys
from app.cli.installation import fail, make_site_keys, now, open_site, settings
from app.keys import list_site_keys, new_id, put_back_certificates
from app.site.installation import Site
from app.workflow.founding_copies import FoundedCopy, InUse, NotOfThis, found_copy


@click.group()
def training() -> None:
    """Train people in an installation of its own."""


@training.command()
@click.argument("original")
def copy(original: str) -> None:
    """Make this copy of the installation ORIGINAL (its id, as `doctor` says it) one for training.

    It has an id and keys of its own from now on, and says so on every page. Its folder for the keys of the
    site is empty before: with its keys beside it a database is the original.
    """
    made = settings()
    if any(each.here for each in list_site_keys(made.site_keys)):
        fail("COUNTERSIGN_SITE_KEYS: a copy has keys of its own: name an empty folder")
    site = open_site(made)
    match found_copy(site, now(), original=original, installation=new_id()):
        case FoundedCopy(installation=installation):
            _make_keys(site, made.site_keys)
            click.echo(f"this is the installation {installation}, a copy for training of {original}")
        case NotOfThis():
            fail("this is no copy of that installation: `countersign doctor` says of which it is")
        case InUse():
            fail("a server is using this database: stop it first; if it is the original, leave it alone")


def _make_keys(site: Site, folder: Path) -> None:
    """The certificates that came along verify what was sealed before; new keys sign from now on."""
    put_back_certificates(folder, missing_site_keys(site))
    make_site_keys(site)
