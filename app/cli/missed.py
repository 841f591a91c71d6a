"""`countersign missed`: what both missed, by what a third person said of findings."""

from datetime import datetime

import click

from app.cli.days import DAY
from app.cli.installation import fail, now, open_site, settings
from app.words.missed import ASSUMES, Part, agreed_part, caught_part
from app.words.reviewing import CATEGORIES
from app.workflow.missed import BothMissed, both_missed_at_host
from app.workflow.refusals import NoSuchUnit, WrongSpan


@click.command()
@click.option("--from", "first", required=True, type=DAY, help="The first day, in the site's zone.")
@click.option("--to", "last", required=True, type=DAY, help="The last day, itself included.")
@click.option("--unit", default="", help="One unit by its name in data; else all.")
def missed(*, first: datetime, last: datetime, unit: str) -> None:
    """Estimate how many errors neither of two nurses caught, and how far two classifiers agree.

    Goes by the findings of first readings that a third person classified as an error, of checks that are
    over and were compared on these days. Counts alone are printed: no reading, no patient, no person.
    """
    match both_missed_at_host(open_site(settings()), now(), first=first.date(), last=last.date(), unit=unit):
        case BothMissed() as found:
            _say(caught_part(found.caught, found.estimate))
            click.echo(f"\n{ASSUMES}\n")
            _say(agreed_part(found.agreed, found.categories, CATEGORIES))
        case WrongSpan():
            fail("the last day lies before the first")
        case NoSuchUnit():
            fail("there is no such unit")


def _say(part: Part) -> None:
    click.echo(f"{part.head}\n{part.says}")
    if part.rows:
        table = [part.columns, *part.rows]
        first = max(len(row[0]) for row in table)
        for name, *cells in table:
            click.echo("  ".join((f"  {name:{first}}", *(f"{cell:>9}" for cell in cells))))
