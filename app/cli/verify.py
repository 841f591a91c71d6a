"""`countersign verify`: whether a record is what it says, by its file and the site's public material."""

import json
import os
import sys
from collections.abc import Iterable
from pathlib import Path

import click

from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.cli.installation import fail, now, open_site, settings
from app.cli.verify_store import OUT_OF_REACH, say_unreadable, verify_whole
from app.config import WrongSettingError
from app.keys import list_site_keys, load_site_keys, public_file
from app.records.checkpoint import file_content
from app.records.verification import NotReadable, Verification
from app.storage import StoreUnavailable

_HOLDS, _DOES_NOT_HOLD = 0, 1

_SAID = {True: "holds        ", False: "DOES NOT HOLD", None: "not asked    "}
_CLOSE = "No check of a file shows that the label was right, or the time by a clock that is not the site's."


_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("record", metavar="[FILE.pdf]", type=_FILE, required=False)
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
    """Verify a record's PDF by the site's public certificates and a checkpoint of its log.

    Without --site and --checkpoint this installation's own are used. With --store the whole database is
    verified, and only read. Exits with 0 when everything holds, 1 when something does not, 2 when a file or
    the database cannot be read, or the work was interrupted before anything was found.
    """
    if store == (record is not None):
        fail("name either one FILE.pdf, or --store for the whole database")
    if record is None:
        verify_whole(
            site=site,
            checkpoint=checkpoint,
            pages=not without_pages,
            after=after,
            processes=processes,
            as_json=as_json,
        )
    if without_pages or after:
        fail("--without-pages and --after belong to --store")
    if (site is None) != (checkpoint is None):
        fail("--site and --checkpoint belong together: give both or neither")
    material = (
        read_material(site.read_bytes(), checkpoint.read_bytes()) if site and checkpoint else _own_material()
    )
    found = material if isinstance(material, NotReadable) else verify_file(record.read_bytes(), material)
    if isinstance(found, NotReadable):
        say_unreadable(found, as_json=as_json)
    click.echo(json.dumps(found.as_data(), indent=2) if as_json else "\n".join(_lines(found)))
    sys.exit(_HOLDS if found.holds else _DOES_NOT_HOLD)


def _own_material() -> PublicMaterial | NotReadable:
    """What this installation itself would hand out, at this moment."""
    made = settings()
    site = open_site(made)
    try:
        keys = load_site_keys(made.site_keys, now())
        written = checkpoint_file(site, keys, now())
        certificates = public_file(list_site_keys(made.site_keys))
    except WrongSettingError as wrong:
        return NotReadable(why=str(wrong))
    except StoreUnavailable:
        return NotReadable(why=OUT_OF_REACH)
    if isinstance(written, HistoryChanged):
        return NotReadable(why=written.says)
    return read_material(certificates.encode(), file_content(written))


def _everything(found: Verification) -> str:
    return "EVERYTHING HOLDS." if found.whole else "EVERYTHING THAT WAS ASKED HOLDS."


def _lines(found: Verification) -> Iterable[str]:
    yield found.what
    for each in found.answers:
        yield f"  {_SAID[each.holds]}  {each.question.value}"
        yield f"                 {each.says}"
    if found.superseded:
        yield found.superseded
    yield _everything(found) if found.holds else "NOT EVERYTHING HOLDS: do not rely on this file."
    yield _CLOSE
