"""What every action of the workflow stands on: the store, the key of readings, and the keys of the site.

Keys belong to one installation: its id stands in the log with the word of its application key, and in each
certificate of its site's keys.
"""

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from app.config import WrongSettingError
from app.keys import ApplicationKey, SiteKey, SiteKeys, attest, is_attested, load_site_keys
from app.records.site_events import InstallationFounded, SiteKeyMade
from app.site.log_tree import LogTree
from app.storage import Reader, Store

_ATTESTED = "installation"
# Nothing is in it, and nothing can be.
_NOWHERE = Path("/dev/null/exports")


@dataclass(frozen=True, kw_only=True)
class Site:
    """One installation.

    `site_keys` is the folder of the keys that seal records and sign checkpoints: they are read when they are
    used, so that one that ended, was rotated or came back from a backup counts at once. `exports` is the
    folder of what is asked for on the web; a command asks for nothing there.
    """

    store: Store
    key: ApplicationKey
    site_keys: Path
    exports: Path = _NOWHERE
    tree: LogTree = field(default_factory=LogTree, repr=False, compare=False)


@dataclass(frozen=True, kw_only=True)
class KeysUnusable:
    """A key of the site is missing, has ended, is another's or cannot be read: nothing is signed without."""

    says: str


def readable_site_keys(site: Site) -> SiteKeys | KeysUnusable:
    """The keys that are there, whosever they are, also past their end: for whoever verifies.

    Nothing that lasts is signed with them.
    """
    return _site_keys(site, None)


def _site_keys(site: Site, now: datetime | None) -> SiteKeys | KeysUnusable:
    try:
        return load_site_keys(site.site_keys, now)
    except WrongSettingError as wrong:
        return KeysUnusable(says=str(wrong))


def usable_site_keys(site: Site, now: datetime) -> SiteKeys | KeysUnusable:
    """The keys in use, or why there are none."""
    keys = _site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return keys
    with site.store.read() as reader:
        fault = site_keys_fault(reader, keys.known)
    return KeysUnusable(says=fault) if fault else keys


def founded(
    key: ApplicationKey, installation: str, *, copy_of: str = "", training: bool = False
) -> InstallationFounded:
    """An installation with the word of its application key."""
    attestation = attest(key, _ATTESTED, _facts(installation, copy_of, training=training))
    return InstallationFounded(
        installation=installation, attestation=attestation, copy_of=copy_of, training=training
    )


def is_founded_with(key: ApplicationKey, said: InstallationFounded) -> bool:
    """Whether this is the application key that belongs to an installation."""
    facts = _facts(said.installation, said.copy_of, training=said.training)
    return is_attested(key, _ATTESTED, facts, said.attestation)


def _facts(installation: str, copy_of: str, *, training: bool) -> dict[str, str]:
    made_for = {"made_for": "training"} if training else {}
    return {"installation": installation, "copy_of": copy_of, **made_for}


def find_installation(reader: Reader) -> InstallationFounded | None:
    """Which installation this database is; None where nothing was installed yet."""
    entries = reader.entries_of_kind(InstallationFounded.kind)
    last = entries[-1].event if entries else None
    return last if isinstance(last, InstallationFounded) else None


def is_for_training(reader: Reader) -> bool:
    """Whether this database is one for training: filled for it, or a copy."""
    said = find_installation(reader)
    return said is not None and said.is_for_training


def application_key_fault(reader: Reader, key: ApplicationKey) -> str:
    """Why this is not the application key of this database; empty where it is."""
    said = find_installation(reader)
    is_own = said is None or is_founded_with(key, said)
    return "" if is_own else "COUNTERSIGN_KEY_FILE: the key belongs to another installation than the database"


def site_keys_fault(reader: Reader, known: tuple[SiteKey, ...]) -> str:
    """Why these are not the site's keys of this database; empty where they are, or where there are none."""
    said = find_installation(reader)
    if said is None or not known:
        return ""
    made = (each.event for each in reader.entries_of_kind(SiteKeyMade.kind))
    in_log = {each.kid for each in made if isinstance(each, SiteKeyMade)}
    if any(
        each.installation != said.installation and (each.here or each.kid not in in_log) for each in known
    ):
        return "COUNTERSIGN_SITE_KEYS: the keys belong to another installation than the database"
    # One that was rotated since signs nothing that counts.
    if in_log <= {each.kid for each in known}:
        return ""
    return "COUNTERSIGN_SITE_KEYS: the keys are older than the log, which tells of later ones"
