"""`countersign sample`: draw a random sample of ended checks again, by its seed."""

from datetime import datetime

import click

from app.cli.days import DAY
from app.cli.installation import fail, now, open_site, settings
from app.storage import StoreUnavailable
from app.workflow.sampling import MOST_EACH, Drawn, NothingEnded, NotOver, Plan, WrongSpan, drawn_again


@click.command()
@click.option("--seed", required=True, help="The same seed draws the same checks.")
@click.option("--from", "first", required=True, type=DAY, help="The first day, in the site's zone.")
@click.option("--to", "last", required=True, type=DAY, help="The last day, itself included; it must be over.")
@click.option(
    "--per-unit", "each", required=True, type=click.IntRange(1, MOST_EACH), help="How many of a unit."
)
def sample(*, seed: str, first: datetime, last: datetime, each: int) -> None:
    """Draw a random sample of checks that ended on some days, so many of each unit: unit and id, a line each.

    Of each unit those are drawn whose SHA-256 of seed, line break and id (UTF-8) is smallest, in that order.
    The page *Samples* draws the same; only a sample that is drawn there stands in the log.
    """
    site = open_site(settings())
    try:
        with site.store.read() as reader:
            plan = Plan(seed=seed.strip(), first=first.date(), last=last.date(), each=each)
            drawn = drawn_again(reader, now(), plan)
    except StoreUnavailable:
        fail("the database is out of reach")
    match drawn:
        case Drawn(units=units, sizes=sizes, digest=digest):
            for unit, rows in units.items():
                for row in rows:
                    click.echo(f"{unit} {row.check}")
            told = ", ".join(f"{len(rows)} of {sizes[unit]} of {unit}" for unit, rows in units.items())
            click.echo(f"{told}; SHA-256 {digest}", err=True)
        case WrongSpan():
            fail("the last day lies before the first")
        case NotOver():
            fail("the last day is not over: checks may still end on it")
        case NothingEnded():
            fail("no check ended on those days")
