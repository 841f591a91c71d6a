"""Make an installation: the keys outside the database, the tables, the first published rules."""

from pathlib import Path

import click

from app.cli.installation import fail, make_site_keys, now, open_site, settings
from app.config import WrongSettingError, root
from app.keys import create_key_file
from app.storage import migrate
from app.workflow.installing import install_seed


@click.command()
@click.option(
    "--rules",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    default=None,
    help="Folder with policy, library, safety steps, packs and units; the invented site's by default.",
)
def install(rules: Path | None) -> None:
    """Make the keys, the tables and the first published rules; does no harm when run again."""
    made = settings()
    if not made.key_file.exists():
        create_key_file(made.key_file)
        click.echo(f"key written to {made.key_file}: keep a copy apart from the database")
    migrate(made.database_url)
    site = open_site(made)
    install_seed(site, now(), rules or root() / "seed_data")
    try:
        new = make_site_keys(site)
    except WrongSettingError as wrong:
        fail(str(wrong))
    finally:
        site.store.close()
    if new:
        click.echo(
            f"keys of the site written to {made.site_keys}: `countersign keys backup` keeps a copy of all"
        )
    click.echo("installed")
