"""`countersign backup` and `countersign restore`: copies of the database, whichever engine keeps it."""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import click

from app.base.damage import Damaged, read_or_damaged
from app.cli.installation import DAMAGED, fail, now, require_current, settings
from app.cli.verify_store import lines, progress_words
from app.config import Settings, WrongSettingError
from app.keys import load_key
from app.records.formats import UnknownFormatError
from app.records.store_verification import Progress, Step
from app.storage import StoreUnavailable
from app.workflow.bringing_back import bring_back
from app.workflow.copies import Done, Follow, Installation, NotDone, make_copy

# Seconds between two words of progress.
_OFTEN = 5.0


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def backup(folder: Path) -> None:
    """Keep a copy of the database in FOLDER, which is not there yet or is empty, and verify it.

    Others may write meanwhile: the copy is of one moment. Keys are not in it: `countersign keys backup` keeps
    them, apart. Exits with 1 where the copy, and so the database, does not hold in everything.
    """
    made = settings()
    installation = _installation(made)
    require_current(made)
    match _or_damaged(lambda: make_copy(installation, folder, now(), _telling())):
        case NotDone(why=why):
            fail(why)
        case Done(tally=tally):
            click.echo("\n".join(lines(tally)))
            click.echo(f"kept in {folder}: the log up to entry {tally.progress.entries}")
            sys.exit(1 if tally.failures else 0)


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--as-it-is", is_flag=True, help="Also where not everything in it holds: it is all that is left."
)
def restore(folder: Path, *, as_it_is: bool) -> None:
    """Bring the copy in FOLDER back, where no database is; the keys come back before it.

    The copy is verified first, and then is the database at once, or not at all.
    """
    made = settings()
    installation = _installation(made)
    match _or_damaged(lambda: bring_back(folder, installation, now(), _telling(), as_it_is=as_it_is)):
        case NotDone(why=why, tally=tally):
            if tally:
                click.echo("\n".join(lines(tally)))
            fail(why)
        case Done(tally=tally):
            click.echo("\n".join(lines(tally)))
            entries = tally.progress.entries
            click.echo(f"brought back: the log up to entry {entries}; what came after it is not there")
            click.echo(
                "hold it against the newest checkpoint: `countersign verify --store --checkpoint FILE`"
            )


def _or_damaged(do: Callable[[], Done | NotDone]) -> Done | NotDone:
    """What came of it; a database that cannot be read to its end is said to be so."""
    found = read_or_damaged(do)
    if isinstance(found, Damaged):
        if isinstance(found.error, StoreUnavailable | UnknownFormatError | WrongSettingError | OSError):
            raise found.error
        fail(f"{DAMAGED} ({found.kind}): keep its file as it is; `countersign verify --store` says more")
    return found


def _installation(made: Settings) -> Installation:
    try:
        key = load_key(made.key_file)
    except WrongSettingError as wrong:
        fail(f"{wrong}; `countersign keys restore` brings it back")
    return Installation(
        address=made.database_url,
        owner=made.migration_url,
        application=key,
        application_file=made.key_file,
        site_keys=made.site_keys,
    )


def _telling() -> Follow:
    """Say on the error stream how far it is."""
    begun = said = time.monotonic()

    def follow(step: Step) -> None:
        nonlocal said
        at = time.monotonic()
        if isinstance(step, Progress) and at - said >= _OFTEN:
            said = at
            click.echo(progress_words(step, at - begun), err=True)

    return follow
