"""The units of a site on the command line."""

import click

from app.base import OPERATOR
from app.cli.installation import fail, now, open_site, settings
from app.words.screens import NAME_TAKEN, NOT_A_UNIT_NAME
from app.workflow import units
from app.workflow.looking import unit_names
from app.workflow.refusals import NoSuchUnit


@click.group()
def unit() -> None:
    """Call a unit otherwise, or list the units."""


@unit.command()
@click.argument("unit")
@click.option("--name", required=True, help="What it is called from now on.")
def rename(*, unit: str, name: str) -> None:
    """Call a unit otherwise from now on; every record keeps the name of its moment."""
    match units.rename_unit(open_site(settings()), now(), by=OPERATOR, unit=unit, name=name):
        case units.UnitRenamed(name=called):
            click.echo(f"{unit} is called {called} from now on")
        case units.NotAName():
            fail(NOT_A_UNIT_NAME)
        case units.NameTaken():
            fail(NAME_TAKEN)
        case NoSuchUnit():
            fail("there is no such unit")


@unit.command("list")
def list_units() -> None:
    """List the units: the name in data, and what each is called."""
    for known, name in unit_names(open_site(settings())).items():
        click.echo(f"{known}: {name}")
