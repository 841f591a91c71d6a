"""`countersign verify`: whether a record or an export is what it says, by the site's public material."""

import os
from pathlib import Path
from typing import NoReturn

import click

from app.auditing.making_processes import begin_to_load
from app.reports.manifest import is_export

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_EXPORTED = click.Path(exists=True, path_type=Path)


@click.command()
@click.argument("record", metavar="[FILE]", type=_EXPORTED, required=False)
@click.option("--store", is_flag=True, help="The whole database in the place of one file.")
@click.option("--site", type=_FILE, help="site.pem")
@click.option("--checkpoint", type=_FILE, help="checkpoint.json; with --store also one typed from paper.")
@click.option("--without-pages", is_flag=True, help="With --store: do not make the pages again (quicker).")
@click.option(
    "--after",
    type=click.IntRange(min=0),
    default=0,
    metavar="POSITION",
    help="With --store: go on after this entry.",
)
@click.option(
    "--processes",
    type=click.IntRange(1, 64),
    default=len(os.sched_getaffinity(0)),
    help="With --store: by so many at once; else by as many as there are processors.",
)
@click.option("--json", "as_json", is_flag=True, help="Every answer as JSON.")
def verify(  # noqa: PLR0913  # the options of two questions
    *,
    record: Path | None,
    store: bool,
    site: Path | None,
    checkpoint: Path | None,
    without_pages: bool,
    after: int,
    processes: int,
    as_json: bool,
) -> None:
    """Verify a record's PDF by the site's public certificates and a checkpoint of its log; or an export.

    Without --site and --checkpoint this installation's own are used. An export is known by the manifest
    beside it, and asks for no checkpoint: each file that was cut, changed or swapped is named. With --store
    the whole database is verified, and only read. Exits with 0 when everything holds, 1 when something does
    not, 2 when a file or the database cannot be read, or the work was interrupted before anything was found.
    """
    if store == (record is not None):
        _fail("name either one FILE, or --store for the whole database")
    if record is None:
        _verify_store(
            site=site,
            checkpoint=checkpoint,
            pages=not without_pages,
            after=after,
            processes=processes,
            as_json=as_json,
        )
    if without_pages or after:
        _fail("--without-pages and --after belong to --store")
    if is_export(record):
        from app.cli.verify_export import verify_exported

        verify_exported(record, site=site, as_json=as_json)
    if record.is_dir():
        _fail(f"{record} is a folder, with no manifest of an export beside it")
    if (site is None) != (checkpoint is None):
        _fail("--site and --checkpoint belong together: give both or neither")
    from app.cli.verify_file import verify_one

    verify_one(record, given=(site, checkpoint) if site and checkpoint else None, as_json=as_json)


def _verify_store(
    *, site: Path | None, checkpoint: Path | None, pages: bool, after: int, processes: int, as_json: bool
) -> NoReturn:
    if processes > 1:
        # It loads what they need while this process loads the same.
        begin_to_load()
    from app.cli.verify_store import verify_whole

    verify_whole(
        site=site, checkpoint=checkpoint, pages=pages, after=after, processes=processes, as_json=as_json
    )


def _fail(says: str) -> NoReturn:
    from app.cli.installation import fail

    fail(says)
