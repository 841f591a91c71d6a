"""What every action of the workflow stands on: the store, the key of readings, and the keys of the site."""

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from app.config import WrongSettingError
from app.keys import ApplicationKey, SiteKeys, load_site_keys
from app.site.log_tree import LogTree
from app.storage import Store


@dataclass(frozen=True, kw_only=True)
class Site:
    """One installation.

    `site_keys` is the folder of the keys that seal records and sign checkpoints: they are read when they are
    used, so that one that ended, was rotated or came back from a backup counts at once.
    """

    store: Store
    key: ApplicationKey
    site_keys: Path
    tree: LogTree = field(default_factory=LogTree, repr=False, compare=False)


@dataclass(frozen=True, kw_only=True)
class KeysUnusable:
    """A key of the site is missing, has ended or cannot be read; nothing is sealed or signed without it."""

    says: str


def usable_site_keys(site: Site, now: datetime) -> SiteKeys | KeysUnusable:
    """The keys in use, or why there are none."""
    try:
        return load_site_keys(site.site_keys, now)
    except WrongSettingError as wrong:
        return KeysUnusable(says=str(wrong))
