"""The beds of a unit on the command line."""

import click

from app.base import OPERATOR
from app.cli.installation import fail, now, open_site, settings
from app.site.installation import Site
from app.words.screens import no_such_bed
from app.workflow import beds
from app.workflow.refusals import NoSuchBed, NoSuchUnit

_NO_UNIT = "there is no such unit"


@click.group()
def bed() -> None:
    """Add, retire or list the beds of a unit."""


@bed.command()
@click.argument("unit")
@click.argument("named", nargs=-1, required=True)
def add(unit: str, named: tuple[str, ...]) -> None:
    """Add beds to a unit; one that it has already stays as it is."""
    site = _site()
    for each in named:
        match beds.add_bed(site, now(), by=OPERATOR, unit=unit, bed=each):
            case beds.BedKept(bed=kept):
                click.echo(f"{unit}: bed {kept}")
            case beds.NotABed():
                fail("a bed is a number or a short name")
            case NoSuchUnit():
                fail(_NO_UNIT)


@bed.command()
@click.argument("unit")
@click.argument("named")
def retire(unit: str, named: str) -> None:
    """Retire a bed at which nothing runs or is open; what happened at it stands."""
    match beds.retire_bed(_site(), now(), by=OPERATOR, unit=unit, bed=named):
        case beds.BedGone():
            click.echo(f"{unit}: bed {named} is retired")
        case beds.BedInUse(bed=known):
            fail(f"bed {known} is in use: something runs there, waits, or is being checked")
        case NoSuchBed(beds=known):
            fail(no_such_bed(known))
        case NoSuchUnit():
            fail(_NO_UNIT)


@bed.command("list")
def list_beds() -> None:
    """List the beds of each unit."""
    for unit, known in beds.beds_of_units(_site()).items():
        click.echo(f"{unit}: {', '.join(known)}")


def _site() -> Site:
    return open_site(settings())
