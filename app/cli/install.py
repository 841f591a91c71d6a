"""Fill an empty installation: the keys outside the database, the tables, units and the first rules."""

from pathlib import Path

import click

from app.cli.folders import hold_folder
from app.cli.installation import fail, make_site_keys, now, open_site, settings
from app.cli.rules import lines, read, refuse, standing
from app.config import Settings
from app.keys import create_key_file, list_site_keys, new_id
from app.storage import is_empty, migrate
from app.workflow.publishing import InForce, NotEmpty, install_rules
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import RuleFiles, RulesWrong

_FILLED = (
    "this installation is filled already, and nothing was changed: `countersign rules publish` changes its "
    "rules, `countersign migrate` brings its database to a new version of the program"
)

_KEYS_THERE = (
    "there are keys already, and the database is empty: they belong to another installation. Name files that "
    "are not there in COUNTERSIGN_KEY_FILE and COUNTERSIGN_SITE_KEYS, or restore the database of these keys"
)


@click.command()
@click.option(
    "--rules",
    "folder",
    required=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder with policy, library, safety steps, packs and units.",
)
@click.option(
    "--training", is_flag=True, help="For training alone, now and ever: it says so on every page and paper."
)
def install(folder: Path, *, training: bool) -> None:
    """Fill an empty installation: keys, tables, units and the first rules; refused where it is filled."""
    made = settings()
    files = read(folder)
    faults = faults_of(files, unit_ids(files))
    if faults:
        refuse(RulesWrong(faults=faults))
    begun = made.key_file.with_name(f"{made.key_file.name}.installing")
    begun.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with hold_folder(begun.parent, "another `countersign install` is at work here"):
        if not begun.exists():
            _refuse_filled(made)
            begun.touch(mode=0o600)
        if not made.key_file.exists():
            create_key_file(made.key_file)
            click.echo(f"key written to {made.key_file}: keep a copy apart from the database")
        migrate(made.migration_url, program=made.database_url)
        _fill(made, files, training=training)
        begun.unlink()


def _refuse_filled(made: Settings) -> None:
    """What was installed stays as it is; and the keys of another installation are not taken for a new one.

    One that was broken off has left its mark beside the application key: it is gone on with.
    """
    if not is_empty(made.migration_url):
        fail(_FILLED)
    if made.key_file.exists() or list_site_keys(made.site_keys):
        fail(_KEYS_THERE)


def _fill(made: Settings, files: RuleFiles, *, training: bool) -> None:
    site = open_site(made)
    match install_rules(site, now(), files, installation=new_id(), training=training):
        case InForce() | NotEmpty():
            # Where it was broken off after that, the keys of the site are still to be made.
            pass
        case RulesWrong() as wrong:
            refuse(wrong)
    new = make_site_keys(site)
    published, units = standing(site, now())
    if new:
        click.echo(
            f"keys of the site written to {made.site_keys}: `countersign keys backup` keeps a copy of all"
        )
    click.echo("in force from now on:")
    for line in lines(published, units):
        click.echo(line)
    for each in files.units:
        click.echo(f"{each['name']}: {len(each['beds'])} beds")
