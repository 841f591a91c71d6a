"""Copies of the database, verified when they are made.

A copy is a folder with one database file, and a file that says which bytes and which rows it has. Keys are
never in it: whoever has a copy and no key reads nothing that waits for its second, and signs nothing.
"""

import json
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from hashlib import file_digest
from pathlib import Path

from app.auditing.verifying_store import Wanted, verify_store
from app.keys import ApplicationKey
from app.records.canonical import canonical, digest
from app.records.formats import COPY
from app.records.store_verification import Step, Tally
from app.records.verification import NotReadable
from app.site.installation import Site
from app.storage import Rows, contents, copy_out, open_store, settle

DATABASE, MANIFEST = "countersign.sqlite3", "copy.json"

Follow = Callable[[Step], None]


@dataclass(frozen=True, kw_only=True)
class Installation:
    """Where the database of a site is or will be, and the keys with which a copy is verified.

    By the address of the `owner` tables are made; it may be that of the program.
    """

    address: str
    owner: str
    application: ApplicationKey
    application_file: Path
    site_keys: Path

    def site(self, file: Path | None = None) -> Site:
        """The site over its database, or over a copy of it; whoever asks closes its store."""
        address = f"sqlite:///{file}" if file else self.address
        return Site(store=open_store(address), key=self.application, site_keys=self.site_keys)


@dataclass(frozen=True, kw_only=True)
class Done:
    """It was made or brought back; what verification found of it."""

    tally: Tally


@dataclass(frozen=True, kw_only=True)
class NotDone:
    """Nothing was made and nothing replaced; where a copy does not hold, what verification found."""

    why: str
    tally: Tally | None = None


def make_copy(of: Installation, folder: Path, now: datetime, follow: Follow) -> Done | NotDone:
    """A copy in a folder that is not there yet, or is empty; it appears there whole or not at all.

    One that does not hold is kept too: it is what the database is. Raises StoreUnavailable and OSError.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        return NotDone(why=f"{folder} is there already: a copy overwrites nothing")
    if not folder.parent.is_dir():
        # Never made: where another disk should be, the copy would lie on this one.
        return NotDone(why=f"there is no folder {folder.parent}")
    if any(_lie_together(folder, each) for each in (of.application_file.parent, of.site_keys)):
        return NotDone(why=f"{folder} lies with the keys: a copy is kept apart from them")
    with tempfile.TemporaryDirectory(prefix=f".{folder.name}-", dir=folder.parent) as name:
        made = Path(name) / "copy"
        made.mkdir(mode=0o700)
        file = made / DATABASE
        copy_out(of.address, file)
        tally = verified(of, file, now, follow)
        if isinstance(tally, NotReadable):
            return NotDone(why=f"the copy cannot be verified: {tally.why}")
        rows = contents(f"sqlite:///{file}")
        settle(file)
        (made / MANIFEST).write_text(_manifest(file, rows, tally, now), encoding="utf-8")
        made.rename(folder)
    return Done(tally=tally)


def _lie_together(folder: Path, keys: Path) -> bool:
    """Whether who takes one of them along takes the other."""
    one, other = folder.resolve(), keys.resolve()
    return one == other or other in one.parents or one in other.parents


def _manifest(file: Path, rows: dict[str, Rows], tally: Tally, now: datetime) -> str:
    told = {
        "format": COPY.newest,
        "made_at": now.isoformat(timespec="seconds"),
        "entries": tally.progress.entries,
        "holds": not tally.failures,
        "sha256": digest_of(file),
        "tables": {name: asdict(each) for name, each in rows.items()},
    }
    return json.dumps({**told, "digest": digest(canonical(told))}, indent=2) + "\n"


def digest_of(file: Path) -> str:
    """The digest of a file's bytes."""
    with file.open("rb") as read:
        return file_digest(read, "sha256").hexdigest()


def verified(of: Installation, file: Path, now: datetime, follow: Follow) -> Tally | NotReadable:
    """What verification finds of a copy; the pages of records are not made again, which takes hours."""
    site = of.site(file)
    tally = Tally(pages=False)
    try:
        steps = verify_store(site, now, Wanted(pages=False))
        if isinstance(steps, NotReadable):
            return steps
        for step in steps:
            tally.add(step)
            follow(step)
    finally:
        site.store.close()
    tally.whole = not tally.unverified
    return tally
