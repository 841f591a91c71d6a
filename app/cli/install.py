"""Fill an empty installation: the keys outside the database, the tables, units and the first rules."""

from pathlib import Path

import click

from app.cli.installation import fail, make_site_keys, now, open_site, settings
from app.cli.rules import lines, read, refuse, standing
from app.config import Settings
from app.keys import create_key_file
from app.storage import is_empty, migrate
from app.workflow.publishing import InForce, NotEmpty, install_rules
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import RuleFiles, RulesWrong

_FILLED = (
    "this installation is filled already, and nothing was changed: `countersign rules publish` changes its "
    "rules, `countersign migrate` brings its database to a new version of the program"
)


@click.command()
@click.option(
    "--rules",
    "folder",
    required=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder with policy, library, safety steps, packs and units.",
)
def install(folder: Path) -> None:
    """Fill an empty installation: keys, tables, units and the first rules; refused where it is filled."""
    made = settings()
    files = read(folder)
    faults = faults_of(files, unit_ids(files))
    if faults:
        refuse(RulesWrong(faults=faults))
    if not is_empty(made.database_url):
        fail(_FILLED)
    if not made.key_file.exists():
        create_key_file(made.key_file)
        click.echo(f"key written to {made.key_file}: keep a copy apart from the database")
    migrate(made.database_url)
    _fill(made, files)


def _fill(made: Settings, files: RuleFiles) -> None:
    site = open_site(made)
    match install_rules(site, now(), files):
        case InForce():
            pass
        case RulesWrong() as wrong:
            refuse(wrong)
        case NotEmpty():
            fail(_FILLED)
    new = make_site_keys(site)
    published, units = standing(site, now())
    site.store.close()
    if new:
        click.echo(
            f"keys of the site written to {made.site_keys}: `countersign keys backup` keeps a copy of all"
        )
    click.echo("in force from now on:")
    for line in lines(published, units):
        click.echo(line)
    for each in files.units:
        click.echo(f"{each['name']}: {len(each['beds'])} beds")
