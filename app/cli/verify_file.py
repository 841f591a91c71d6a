"""`countersign verify FILE.pdf`: one record's file, by the site's public material."""

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import NoReturn

import click

from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.cli.installation import now, open_site, settings
from app.cli.verify_store import OUT_OF_REACH, say_unreadable
from app.config import WrongSettingError
from app.keys import list_site_keys, load_site_keys, public_file
from app.records.checkpoint import file_content
from app.records.verification import NotReadable, Verification
from app.storage import StoreUnavailable

_HOLDS, _DOES_NOT_HOLD = 0, 1

_SAID = {True: "holds        ", False: "DOES NOT HOLD", None: "not asked    "}
_CLOSE = "No check of a file shows that the label was right, or the time by a clock that is not the site's."


def verify_one(record: Path, *, given: tuple[Path, Path] | None, as_json: bool) -> NoReturn:
    """Verify one file, by what is given or by this installation's own, and end the command."""
    material = read_material(*(each.read_bytes() for each in given)) if given else _own_material()
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
