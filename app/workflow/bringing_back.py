"""Bring a copy of the database back: verified first, and then there at once or not at all."""

import json
import shutil
import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app.base.damage import Damaged, read_or_damaged
from app.keys import list_site_keys
from app.records.canonical import canonical, digest
from app.records.formats import COPY, UnknownFormat
from app.records.verification import NotReadable
from app.site.installation import application_key_fault, site_keys_fault
from app.storage import NotLoaded, Rows, Schema, find_schema, is_empty, load_copy, settle, sqlite_path
from app.workflow.copies import DATABASE, MANIFEST, Done, Follow, Installation, NotDone, digest_of, verified

_SCHEMAS = {
    Schema.NONE: "the copy has no tables of this program",
    Schema.OLDER: "the copy is of an older version of this program: bring it back with that, then migrate",
    Schema.NEWER: "the copy is of a newer version of this program: bring it back with that",
}


@dataclass(frozen=True, kw_only=True)
class _Told:
    """What a copy says of itself."""

    sha256: str
    tables: dict[str, Rows]


def bring_back(
    folder: Path, to: Installation, now: datetime, follow: Follow, *, as_it_is: bool
) -> Done | NotDone:
    """Put a copy where no database is; `as_it_is` also one that does not hold.

    The copy is only read, and verified at another place. Raises StoreUnavailable and OSError.
    """
    told = _told(folder)
    if isinstance(told, NotDone):
        return told
    file = sqlite_path(to.address)
    if file is not None and file.exists():
        return NotDone(why=f"{file} is there already, and nothing takes its place: move it away first")
    if not is_empty(to.owner):
        return NotDone(why="the database holds an installation already: name an empty one")
    if file is not None:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Beside its place, from where one step puts it there.
    with tempfile.TemporaryDirectory(prefix=".countersign-", dir=file.parent if file else None) as name:
        staged = Path(name) / DATABASE
        staged.touch(mode=0o600)
        shutil.copyfile(folder / DATABASE, staged)
        if digest_of(staged) != told.sha256:
            return NotDone(why=f"{folder / DATABASE} is not, byte for byte, what was kept: take another copy")
        return _bring_back(staged, told, to, now, follow, as_it_is=as_it_is)


def _told(folder: Path) -> _Told | NotDone:
    read = read_or_damaged(lambda: _read((folder / MANIFEST).read_bytes()))
    match read:
        case Damaged():
            return NotDone(why=f"{folder / MANIFEST} cannot be read: there is no copy here, or it is damaged")
        case UnknownFormat(says=says):
            return NotDone(why=says)
        case _Told():
            return read


def _read(written: bytes) -> _Told | UnknownFormat:
    told = json.loads(written)
    version = COPY.find_version(told)
    if isinstance(version, UnknownFormat):
        return version
    if told.pop("digest") != digest(canonical(told)):
        raise ValueError
    rows = {name: Rows(**each) for name, each in told["tables"].items()}
    return _Told(sha256=told["sha256"], tables=rows)


def _bring_back(  # noqa: PLR0917  # one step of the function above
    staged: Path, told: _Told, to: Installation, now: datetime, follow: Follow, *, as_it_is: bool
) -> Done | NotDone:
    fault = _SCHEMAS.get(find_schema(f"sqlite:///{staged}"))
    if fault:
        return NotDone(why=fault)
    fault = _key_fault(staged, to)
    if fault:
        return NotDone(why=fault)
    tally = verified(to, staged, now, follow)
    if isinstance(tally, NotReadable):
        return NotDone(why=f"the copy cannot be verified: {tally.why}")
    if tally.failures and not as_it_is:
        return NotDone(why="not everything in the copy holds", tally=tally)
    settle(staged)
    outcome = load_copy(staged, to.owner, told.tables, program=to.address)
    if isinstance(outcome, NotLoaded):
        return NotDone(why=outcome.why)
    return Done(tally=tally)


def _key_fault(staged: Path, to: Installation) -> str:
    """Why the keys that are here are not those of the copy; empty where they are."""
    site = to.site(staged)
    try:
        with site.store.read() as reader:
            return application_key_fault(reader, site.key) or site_keys_fault(
                reader, list_site_keys(to.site_keys)
            )
    finally:
        site.store.close()
