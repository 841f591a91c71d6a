"""`countersign verify` of an export: each of its files by the manifest, and the manifest by the site."""

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import NoReturn

import click

from app.auditing.verifying_export import ExportVerification, verify_export
from app.cli.installation import settings
from app.cli.verify_store import say_unreadable
from app.config import WrongSettingError
from app.keys import list_site_keys, public_file, read_public_file
from app.records.verification import NotReadable

_HOLDS, _DOES_NOT_HOLD, _NOT_TOLD = 0, 1, 2
_SAID = {True: "holds        ", False: "DOES NOT HOLD", None: "not asked    "}


def verify_exported(path: Path, *, site: Path | None, as_json: bool) -> NoReturn:
    """Verify an export and end the command with the answer; the site's own certificates, or those given."""
    found = _verified(path, site)
    if isinstance(found, NotReadable):
        say_unreadable(found, as_json=as_json)
    click.echo(json.dumps(found.as_data(), indent=2) if as_json else "\n".join(_lines(found)))
    sys.exit(_DOES_NOT_HOLD if not found.holds else _HOLDS if found.is_signed else _NOT_TOLD)


def _verified(path: Path, site: Path | None) -> ExportVerification | NotReadable:
    try:
        certificates = (
            site.read_bytes().decode("ascii", "replace")
            if site
            else public_file(list_site_keys(settings().site_keys))
        )
        read_public_file(certificates)
    except WrongSettingError as wrong:
        return NotReadable(why=str(wrong))
    return verify_export(path, certificates)


def _lines(found: ExportVerification) -> Iterable[str]:
    yield found.what
    for each in found.answers:
        yield f"  {_SAID[each.holds]}  {each.of}"
        yield f"                 {each.says}"
    if not found.holds:
        yield "NOT EVERYTHING HOLDS: do not rely on this export."
    elif not found.is_signed:
        yield "NOTHING TELLS WHOSE IT IS: whoever changed the files may have written the manifest anew."
    else:
        yield "EVERYTHING HOLDS." if found.whole else "EVERYTHING THAT WAS ASKED HOLDS."
