"""One file with every key of the installation, locked under a passphrase: a lost disk must not lose all."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from app.keys.locked import WrongSecret, lock, unlock
from app.keys.new_file import write_new
from app.keys.sealing import ApplicationKey
from app.keys.site_keys import SiteKey, read_public_file
from app.records.canonical import canonical

_CONTEXT = ("countersign backup of keys", "1")
_APPLICATION_KEY = "application key"


@dataclass(frozen=True, kw_only=True)
class Restored:
    """The files that were written, by name."""

    names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class AlreadyThere:
    """A file of that name is there; nothing was written, because keys are never overwritten."""

    name: str


@dataclass(frozen=True, kw_only=True)
class Held:
    """The files of an opened backup, by name."""

    files: Mapping[str, bytes] = field(repr=False)

    @property
    def application_key(self) -> ApplicationKey:
        """The application key of the installation that it was made of."""
        return ApplicationKey(content=bytes.fromhex(self.files[_APPLICATION_KEY].decode()))

    @property
    def site_keys(self) -> tuple[SiteKey, ...]:
        """The keys of its site."""
        return tuple(
            replace(each, here=f"{Path(name).stem}.key" in self.files)
            for name, content in self.files.items()
            if name.endswith(".pem")
            for each in read_public_file(content.decode())
        )


def backup_of(passphrase: str, *, application_key: Path, site_keys: Path) -> bytes:
    """The application key and every file of the site's keys, as one locked content."""
    files = {
        each.name: each.read_bytes()
        for each in sorted(site_keys.iterdir())
        if each.is_file() and not _is_of_stolen(each)
    }
    content = {name: held.hex() for name, held in files.items()}
    return lock(
        passphrase, _CONTEXT, canonical({_APPLICATION_KEY: application_key.read_bytes().hex(), **content})
    )


def _is_of_stolen(file: Path) -> bool:
    """The private half of a key that was declared stolen, which an older backup may have brought back."""
    return file.suffix == ".key" and file.with_suffix(".stolen").exists()


def open_backup(backup: bytes, passphrase: str) -> Held | WrongSecret:
    """What a backup holds; nothing is written."""
    content = unlock(passphrase, _CONTEXT, backup)
    if isinstance(content, WrongSecret):
        return content
    return Held(files={name: bytes.fromhex(written) for name, written in json.loads(content).items()})


def restore(held: Held, *, application_key: Path, site_keys: Path) -> Restored | AlreadyThere:
    """Write the keys of a backup where none are; what was restored is ready for use.

    Where an attempt before was broken off, what it did not write is written.
    """
    targets = {name: _target(name, application_key, site_keys) for name in held.files}
    there = [name for name, target in targets.items() if target.exists()]
    begun, missing = list(targets)[: len(there)], list(targets)[len(there) :]
    is_part = there == begun and all(targets[name].read_bytes() == held.files[name] for name in there)
    # A key or a theft that the backup does not know of came later: nothing older joins it.
    if there and not (missing and is_part and set(site_keys.glob("*")) <= set(targets.values())):
        return AlreadyThere(name=there[0])
    for name in missing:
        targets[name].parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_new(
            targets[name], held.files[name], mode=0o644 if name.endswith((".pem", ".stolen")) else 0o600
        )
    return Restored(names=tuple(missing))


def _target(name: str, application_key: Path, site_keys: Path) -> Path:
    # The name alone: a backup does not choose folders.
    return application_key if name == _APPLICATION_KEY else site_keys / Path(name).name
