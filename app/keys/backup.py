"""One file with every key of the installation, locked under a passphrase: a lost disk must not lose all."""

import json
from dataclasses import dataclass
from pathlib import Path

from app.keys.locked import WrongSecret, lock, unlock
from app.keys.new_file import write_new
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


def restore(
    backup: bytes, passphrase: str, *, application_key: Path, site_keys: Path
) -> Restored | AlreadyThere | WrongSecret:
    """Write the keys of a backup where none are; what was restored is ready for use."""
    content = unlock(passphrase, _CONTEXT, backup)
    if isinstance(content, WrongSecret):
        return content
    held = {name: bytes.fromhex(written) for name, written in json.loads(content).items()}
    targets = {name: _target(name, application_key, site_keys) for name in held}
    for name, target in targets.items():
        if target.exists():
            return AlreadyThere(name=name)
    for name, target in targets.items():
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_new(target, held[name], mode=0o644 if name.endswith((".pem", ".stolen")) else 0o600)
    return Restored(names=tuple(targets))


def _target(name: str, application_key: Path, site_keys: Path) -> Path:
    # The name alone: a backup does not choose folders.
    return application_key if name == _APPLICATION_KEY else site_keys / Path(name).name
