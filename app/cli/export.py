"""`countersign export`: what ended on some days, into files that nobody else can read."""

import shutil
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import click

from app.cli.asked import ask_who
from app.cli.days import DAY
from app.cli.folders import hold_folder
from app.cli.installation import fail, now, open_site, settings
from app.reports.manifest import Manifest, manifest_of
from app.site.installation import Site
from app.storage import StoreUnavailable
from app.workflow.export_apart import give_way
from app.workflow.export_jobs import FORMS, Asked
from app.workflow.export_making import make_export
from app.workflow.exporting import FEWEST_DAYS, NamesPeople, Span, TooFewDays, Wanted, export_at_host
from app.workflow.refusals import NotAllowed, TooManyTries, WrongCredential, WrongSpan


@click.command()
@click.option("--from", "first", required=True, type=DAY, help="The first day, in the site's zone.")
@click.option("--to", "last", required=True, type=DAY, help="The last day, itself included.")
@click.option("--format", "form", required=True, type=click.Choice(FORMS))
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    help="A file that does not exist; for parquet a folder.",
)
@click.option(
    "--deidentified",
    is_flag=True,
    help=f"So that nobody is known in it, by stated rules; {FEWEST_DAYS} days at least.",
)
def export(*, first: datetime, last: datetime, form: str, out: Path, deidentified: bool) -> None:
    """Export what ended on some days: every record, or one table of the findings.

    Exports name patients and people: id and secret of a pharmacist or of the quality team are asked for, or
    read from the standard input in two lines, and the log keeps who exported what. Beside the file stands its
    manifest, by which `countersign verify FILE` tells whether it is whole. Exits with 0 when everything is
    written, with 2 when it is not.
    """
    for each in (out, manifest_of(out)):
        if each.exists():
            fail(f"{each} exists already: name another file")
    if not out.absolute().parent.is_dir():
        fail(f"there is no folder {out.absolute().parent}")
    site = open_site(settings())
    try:
        span = Span(first=first.date(), last=last.date())
        _export(site, Wanted(span=span, form=form, deidentified=deidentified), out)
    except StoreUnavailable:
        fail("the database is out of reach")


def _export(site: Site, wanted: Wanted, out: Path) -> None:
    match export_at_host(site, now(), ask_who("whoever exports"), wanted):
        case Asked() as asked:
            made = _write(site, asked, out)
            size = sum(each.size for each in made.parts)
            click.echo(f"{out}: {made.rows:,} rows or lines, {size:,} bytes, readable by you alone")
        case WrongSpan():
            fail("the last day lies before the first")
        case NamesPeople():
            fail("what was read cannot be de-identified; nothing was written")
        case TooFewDays():
            fail(f"de-identified it covers at least {FEWEST_DAYS} days up to today; nothing was written")
        case NotAllowed():
            fail("this person may not export; nothing was written")
        case WrongCredential():
            fail("id and secret do not belong together; nothing was written")
        case TooManyTries(seconds=seconds):
            fail(f"too many tries; wait {seconds} s")


def _say_nothing(_rows: int) -> None:
    """Nobody looks on."""


def _write(site: Site, asked: Asked, out: Path) -> Manifest:
    """Write all or nothing: into a folder of mode 0700 beside it, whose files take their names when complete.

    What is left of a command that was killed is thrown away by the next one of that name.
    """
    give_way()
    unfinished = out.absolute().with_name(f".{out.name}.unfinished")
    busy = f"another command writes {out} just now"
    try:
        with suppress(FileNotFoundError), hold_folder(unfinished, busy):
            shutil.rmtree(unfinished)
        unfinished.mkdir(mode=0o700)
        with hold_folder(unfinished, busy):
            try:
                return _made(site, asked, unfinished, out)
            finally:
                shutil.rmtree(unfinished, ignore_errors=True)
    except OSError as error:
        fail(f"{out} cannot be written: {error.strerror}")


def _made(site: Site, asked: Asked, unfinished: Path, out: Path) -> Manifest:
    made = make_export(site, asked, unfinished, name=out.name, tell=_say_nothing)
    # The file comes last: with its name it is complete.
    for each in (manifest_of(out), out):
        (unfinished / each.name).replace(each)
    return made
