"""A copy of an installation becomes one of its own, for training."""

from dataclasses import dataclass
from datetime import datetime

from app.site.installation import Site, find_installation, founded
from app.workflow.sweeping import LEASE


@dataclass(frozen=True, kw_only=True)
class FoundedCopy:
    """The database is another installation from now on."""

    installation: str


@dataclass(frozen=True)
class NotOfThis:
    """The database is not, or no longer, that installation."""


@dataclass(frozen=True)
class InUse:
    """A server is using the database."""


def found_copy(
    site: Site, now: datetime, *, original: str, installation: str
) -> FoundedCopy | NotOfThis | InUse:
    """Call this database another installation, which says of which it was a copy; none that is in use."""
    with site.store.write() as tx:
        said = find_installation(tx)
        if said is None or said.installation != original:
            return NotOfThis()
        if any(each["until"] > now for each in tx.rows("lease", name=LEASE)):
            return InUse()
        tx.append(founded(site.key, installation, copy_of=original), at=now)
    return FoundedCopy(installation=installation)
