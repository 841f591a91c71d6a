"""`countersign forms`: the downtime forms of a unit as a file, so that a quiet computer can hold them."""

from pathlib import Path

import click

from app.cli.folders import replace_file
from app.cli.installation import fail, now, open_site, settings
from app.workflow.downtime import Forms, downtime_forms
from app.workflow.refusals import NoSuchUnit


@click.command()
@click.option("--unit", "units", multiple=True, help="A unit by its id; again for another, none for all.")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
def forms(units: tuple[str, ...], folder: Path) -> None:
    """Write the downtime forms of units into FOLDER, each in a file of its own, by the rules in force.

    A file that is there is replaced whole or not at all: run it again whenever rules change, or each day.
    """
    site = open_site(settings())
    with site.store.read() as reader:
        known = [each.id for each in reader.units()]
    if not known:
        fail("there are no units yet: `countersign install` fills an empty installation")
    wrong = [each for each in units if each not in known]
    if wrong:
        fail(f"there is no unit {wrong[0]}; there are: {', '.join(known)}")
    folder.mkdir(parents=True, exist_ok=True)
    for unit in units or known:
        match downtime_forms(site, now(), unit):
            case Forms(pdf=pdf, rules=rules):
                path = folder / f"countersign-downtime-{unit}.pdf"
                replace_file(path, pdf)
                click.echo(f"{path}: {rules}")
            case NoSuchUnit():
                fail(f"there is no unit {unit}")
