"""A signed checkpoint of the log, and the places of entries under it, as they leave the site.

A checkpoint says how many entries the log had and what its root was. Copies outside the database, on the
shift sheet or in a file, are what shows that the newest entries were cut off or old ones changed.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from app.records.canonical import canonical
from app.records.formats import CHECKPOINT, CHECKPOINT_FILE, Format, UnknownFormat
from app.records.proofs import is_included, leaf_hash

_TITLE = "Countersign: checkpoint of the log"
_GROUP = 8
_GROUPS_A_LINE = 4
LABEL_WIDTH = 11
_TEXT = re.compile(
    r"entries\s+(?P<size>[0-9]{1,15})\s+root\s+(?P<root>[0-9a-f\s]+?)\s+time\s+(?P<at>\S+)\s+"
    r"key\s+(?P<kid>[A-Za-z0-9_-]{43})\s+signature\s+(?P<signature>[0-9a-f\s]+)"
)
_ROOT = re.compile(r"[0-9a-f]{64}")
_SIGNATURE = re.compile(r"[0-9a-f]{128}")
_KEY_ID = re.compile(r"[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, kw_only=True)
class Checkpoint:
    """Size and root (hexadecimal) of the log at a moment, signed by the site's checkpoint key."""

    size: int
    root: str
    at: datetime
    kid: str
    signature: str


@dataclass(frozen=True, kw_only=True)
class Place:
    """An entry of the log, and its path (hexadecimal) to the root of a checkpoint."""

    leaf: bytes
    position: int
    path: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class CheckpointFile:
    """A checkpoint and, by the digest of each record's PDF, the place of the entry that it was issued."""

    checkpoint: Checkpoint
    issued: Mapping[str, Place]


@dataclass(frozen=True)
class Unreadable:
    """Not a checkpoint, or a place that no entry can have; `says` where it is of a format not known here."""

    says: str = ""


def statement(*, size: int, root: str, at: datetime, kid: str) -> bytes:
    """The bytes that the checkpoint key signs (Ed25519, RFC 8032)."""
    return canonical({"format": CHECKPOINT.newest, "size": size, "root": root, "time": _time(at), "key": kid})


def statement_of(checkpoint: Checkpoint) -> bytes:
    """The bytes that this checkpoint's signature must be over."""
    return statement(size=checkpoint.size, root=checkpoint.root, at=checkpoint.at, kid=checkpoint.kid)


def holds(place: Place, checkpoint: Checkpoint) -> bool:
    """Whether the entry stands in the log at its position, by the checkpoint's root."""
    return is_included(
        leaf=leaf_hash(place.leaf),
        index=place.position - 1,
        size=checkpoint.size,
        path=[bytes.fromhex(step) for step in place.path],
        root=bytes.fromhex(checkpoint.root),
    )


def as_data(checkpoint: Checkpoint) -> dict[str, Any]:
    """The checkpoint as JSON values."""
    said: dict[str, Any] = json.loads(statement_of(checkpoint))
    return {**said, "signature": checkpoint.signature}


def from_data(data: object) -> Checkpoint | Unreadable:
    """The checkpoint that `as_data` wrote; nothing is left out and nothing added."""
    if not isinstance(data, dict) or type(data.get("size")) is not int:
        return Unreadable()
    if unknown := unknown_format(CHECKPOINT, data):
        return unknown
    try:
        read = Checkpoint(
            size=data["size"],
            root=_matching(_ROOT, data["root"]),
            at=_moment(data["time"]),
            kid=_matching(_KEY_ID, data["key"]),
            signature=_matching(_SIGNATURE, data["signature"]),
        )
        unchanged = read.size >= 0 and as_data(read) == data
    except (KeyError, ValueError):
        return Unreadable()
    return read if unchanged else Unreadable()


def unknown_format(of: Format, data: Mapping[str, Any]) -> Unreadable | None:
    """That these JSON values are of a format that this program does not know, if so."""
    found = of.find_version(data)
    if not isinstance(found, UnknownFormat):
        return None
    return Unreadable(says=found.says if found.is_ours else "")


def as_text(checkpoint: Checkpoint) -> str:
    """The checkpoint to be printed on paper; hexadecimal, because l, I, 1, O and 0 look alike there."""
    rows = [
        ("entries", [str(checkpoint.size)]),
        ("root", _grouped(checkpoint.root)),
        ("time", [_time(checkpoint.at)]),
        ("key", [checkpoint.kid]),
        ("signature", _grouped(checkpoint.signature)),
    ]
    lines = [_TITLE]
    for label, values in rows:
        labels = [label, *[""] * (len(values) - 1)]
        lines += [each.ljust(LABEL_WIDTH) + value for each, value in zip(labels, values, strict=True)]
    return "\n".join(lines) + "\n"


def from_text(text: str) -> Checkpoint | Unreadable:
    """The checkpoint on a printed sheet, however its lines are broken."""
    found = _TEXT.search(text)
    if found is None:
        return Unreadable()
    return from_data(
        {
            "format": CHECKPOINT.newest,
            "size": int(found["size"]),
            "root": "".join(found["root"].split()),
            "time": found["at"],
            "key": found["kid"],
            "signature": "".join(found["signature"].split()),
        }
    )


def place_as_data(place: Place) -> dict[str, Any]:
    """A place as JSON values; the entry is canonical JSON and so is text."""
    return {"leaf": place.leaf.decode(), "position": place.position, "path": list(place.path)}


def place_from_data(data: object) -> Place | Unreadable:
    """The place that `place_as_data` wrote."""
    if not isinstance(data, dict) or data.keys() != {"leaf", "position", "path"}:
        return Unreadable()
    leaf, position, path = data["leaf"], data["position"], data["path"]
    if type(leaf) is not str or type(position) is not int or not isinstance(path, list):
        return Unreadable()
    try:
        steps = tuple(_matching(_ROOT, step) for step in path)
        return Place(leaf=leaf.encode(), position=position, path=steps)
    except ValueError:
        return Unreadable()


def file_content(file: CheckpointFile) -> bytes:
    """The bytes of `checkpoint.json`."""
    issued = {digest: place_as_data(place) for digest, place in file.issued.items()}
    checkpoint = as_data(file.checkpoint)
    return canonical({"format": CHECKPOINT_FILE.newest, "checkpoint": checkpoint, "issued": issued})


def read_file(content: bytes) -> CheckpointFile | Unreadable:
    """What `file_content` wrote; a file with one unreadable place is unreadable."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return Unreadable()
    if not isinstance(data, dict):
        return Unreadable()
    if unknown := unknown_format(CHECKPOINT_FILE, data):
        return unknown
    if data.keys() != {"format", "checkpoint", "issued"} or type(data["issued"]) is not dict:
        return Unreadable()
    checkpoint = from_data(data["checkpoint"])
    if isinstance(checkpoint, Unreadable):
        return checkpoint
    issued: dict[str, Place] = {}
    for digest, written in data["issued"].items():
        place = place_from_data(written)
        if isinstance(place, Unreadable) or not _ROOT.fullmatch(digest):
            return Unreadable()
        issued[digest] = place
    return CheckpointFile(checkpoint=checkpoint, issued=issued)


def _time(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _moment(written: object) -> datetime:
    """A time of exactly the form that `_time` writes."""
    if not isinstance(written, str):
        raise ValueError("a time is text")  # noqa: TRY004  # read with the other faults of the text
    return datetime.strptime(written, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)


def _matching(pattern: re.Pattern[str], text: object) -> str:
    if not isinstance(text, str) or pattern.fullmatch(text) is None:
        raise ValueError("not of its form")
    return text


def _grouped(digits: str) -> list[str]:
    """Hexadecimal digits in groups, some groups a line, so that two people can read them to each other."""
    groups = [digits[start : start + _GROUP] for start in range(0, len(digits), _GROUP)]
    return [" ".join(groups[at : at + _GROUPS_A_LINE]) for at in range(0, len(groups), _GROUPS_A_LINE)]
