"""The manifest beside an export: what was asked for, by whom and when, and each file's digest."""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from app.records.canonical import canonical
from app.records.checkpoint import Checkpoint, Unreadable, as_data, from_data
from app.records.formats import EXPORT, UnknownFormat

ENDING = ".manifest.json"
_DIGEST = re.compile(r"[0-9a-f]{64}")
_SIGNATURE = re.compile(r"(?:[0-9a-f]{128})?")


@dataclass(frozen=True, kw_only=True)
class Part:
    """One file of an export, by its name beside the manifest."""

    name: str
    rows: int
    size: int
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What an export is.

    `formats` are those of its rows or lines. The days are the site's, of when a check ended. `left_out` are
    the beds at which whoever asked read blind. De-identified, those are blank, and `installation` and
    `asked_by` are pseudonyms. `checkpoint` is the newest of the log as it was made.
    """

    export: str
    installation: str
    form: str
    formats: tuple[str, ...]
    from_date: str
    to_date: str
    zone: str
    deidentified: bool
    left_out: tuple[tuple[str, str], ...]
    asked_by: str
    asked_at: datetime
    rows: int
    parts: tuple[Part, ...]
    checkpoint: Checkpoint | None

    @property
    def statement(self) -> bytes:
        """The bytes that the site signs."""
        return canonical(self._as_data())

    def _as_data(self) -> dict[str, Any]:
        return {
            "format": EXPORT.newest,
            **asdict(self),
            "formats": list(self.formats),
            "left_out": [list(each) for each in self.left_out],
            "asked_at": self.asked_at.isoformat(),
            "parts": [asdict(each) for each in self.parts],
            "checkpoint": as_data(self.checkpoint) if self.checkpoint else None,
        }


@dataclass(frozen=True, kw_only=True)
class SignedManifest:
    """A manifest as it stands in its file; `signature` is empty where no key of the site was at hand."""

    manifest: Manifest
    kid: str
    signature: str

    def content(self) -> bytes:
        """The bytes of the file."""
        said = json.loads(self.manifest.statement)
        return canonical({"manifest": said, "kid": self.kid, "signature": self.signature}) + b"\n"


def manifest_of(file: Path) -> Path:
    """Where the manifest of a file, or of a folder, stands: beside it."""
    return file.parent / f"{file.name}{ENDING}"


def is_export(path: Path) -> bool:
    """Whether a file or folder is an export's, by the manifest that it is or that stands beside it."""
    return path.name.endswith(ENDING) or manifest_of(path).is_file()


def read_manifest(content: bytes) -> SignedManifest | Unreadable:
    """What `content` wrote; nothing is left out, and nothing added."""
    try:
        data = json.loads(content)
        said = data["manifest"]
        found = EXPORT.find_version(said)
        if isinstance(found, UnknownFormat):
            return Unreadable(says=found.says if found.is_ours else "")
        read = SignedManifest(manifest=_manifest(said), kid=data["kid"], signature=data["signature"])
        is_whole = read.content() == content and _SIGNATURE.fullmatch(read.signature)
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return Unreadable()
    return read if is_whole else Unreadable()


def _manifest(said: Mapping[str, Any]) -> Manifest:
    named = {name: value for name, value in said.items() if name != "format"}
    checkpoint = from_data(said["checkpoint"]) if said["checkpoint"] is not None else None
    numbers = [said["rows"], *(each[name] for each in said["parts"] for name in ("rows", "size"))]
    if not all(type(each) is int for each in numbers):
        raise ValueError("not of its form")
    if isinstance(checkpoint, Unreadable) or not all(map(_is_part, said["parts"])):
        raise ValueError("not of its form")
    return Manifest(
        **named
        | {
            "formats": tuple(said["formats"]),
            "left_out": tuple((unit, bed) for unit, bed in said["left_out"]),
            "asked_at": datetime.fromisoformat(said["asked_at"]),
            "parts": tuple(Part(**each) for each in said["parts"]),
            "checkpoint": checkpoint,
        }
    )


def _is_part(said: Mapping[str, Any]) -> bool:
    """Whether it names a file beneath the folder of its manifest, and nothing elsewhere."""
    name = Path(said["name"])
    return _DIGEST.fullmatch(said["sha256"]) is not None and not name.is_absolute() and ".." not in name.parts


def find_fault(folder: Path, part: Part, *, renamed: Path | None = None) -> str:
    """What is wrong with one file of an export; blank where it is what its manifest says.

    `renamed` is where it stands if not under its own name.
    """
    file = renamed or folder / part.name
    if not file.is_file():
        return "it is missing"
    size = file.stat().st_size
    if size < part.size:
        return f"it was cut: {size:,} bytes of {part.size:,}"
    with file.open("rb") as read:
        digest = hashlib.file_digest(read, "sha256").hexdigest()
    if digest == part.sha256:
        return ""
    return (
        "it was changed, or is another file" if size == part.size else "it is another file, or was added to"
    )
