"""`countersign export`: the cleared records of some days, into a file that nobody else can read."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import click

from app.cli.asked import ask_who
from app.cli.installation import fail, now, open_site, settings
from app.site.installation import Site
from app.storage import StoreUnavailable
from app.workflow.exporting import FORMATS, Exporting, Span, WrongSpan, export_at_host
from app.workflow.refusals import NotAllowed, TooManyTries, WrongCredential

_DAY = click.DateTime(formats=["%Y-%m-%d"])


@click.command()
@click.option("--from", "first", required=True, type=_DAY, help="The first day, in the site's zone.")
@click.option("--to", "last", required=True, type=_DAY, help="The last day, itself included.")
@click.option("--format", "form", required=True, type=click.Choice(FORMATS))
@click.option(
    "--out",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="A file that does not exist.",
)
def export(*, first: datetime, last: datetime, form: str, out: Path) -> None:
    """Export the records that were cleared on some days: every record, or one table of their findings.

    Records name patients and people: id and secret of a pharmacist or of the quality team are asked for, or
    read from the standard input in two lines, and the log keeps who exported what. Exits with 0 when the file
    is written, with 2 when it is not.
    """
    if out.exists():
        fail(f"{out} exists already: name another file")
    if not out.absolute().parent.is_dir():
        fail(f"there is no folder {out.absolute().parent}")
    site = open_site(settings())
    try:
        _export(site, Span(first=first.date(), last=last.date()), form, out)
    except StoreUnavailable:
        fail("the database is out of reach")


def _export(site: Site, span: Span, form: str, out: Path) -> None:
    match export_at_host(site, now(), ask_who("whoever exports"), span=span, form=form):
        case Exporting(chunks=chunks):
            click.echo(f"{out}: {_write(out, chunks):,} bytes, readable by you alone")
        case WrongSpan():
            fail("the last day lies before the first")
        case NotAllowed():
            fail("this person may not export; nothing was written")
        case WrongCredential():
            fail("id and secret do not belong together; nothing was written")
        case TooManyTries(seconds=seconds):
            fail(f"too many tries; wait {seconds} s")


def _write(out: Path, chunks: Iterator[bytes]) -> int:
    """Write all or nothing: into a file of mode 0600 beside it, which takes the name when it is complete."""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{out.name}.", dir=out.absolute().parent)
    except OSError as error:
        fail(f"{out} cannot be written: {error.strerror}")
    unfinished = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            for chunk in chunks:
                file.write(chunk)
            file.flush()
            os.fsync(file.fileno())
            size = file.tell()
        unfinished.replace(out)
    except OSError as error:
        fail(f"{out} cannot be written: {error.strerror}")
    finally:
        with suppress(FileNotFoundError):
            unfinished.unlink()
    return size
