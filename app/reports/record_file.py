"""A record's PDF as it lies before somebody: its bytes, what is attached, and nothing believed of it yet."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import orjson

from app.records.canonical import digest
from app.records.checkpoint import Unreadable
from app.records.formats import RECORD as FORMAT
from app.records.formats import Format, UnknownFormat
from app.reports.attachments import (
    PROOF,
    RECORD,
    RENDERER,
    SIGNATURES,
    LogProof,
    read_proof,
)

_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_LAST_EDITION = 2**31 - 1


@dataclass(frozen=True, kw_only=True)
class RecordFile:
    """One record's file, opened; signatures are by clinician's letter."""

    content: bytes
    record: bytes
    document: dict[str, Any]
    signatures: Mapping[str, str]
    proof: LogProof | None
    # What `renderer.json` says; empty where there is none.
    renderer: bytes
    # As the library opened it: taking a file apart is most of the work of looking at its seal.
    reader: Any = field(repr=False, compare=False)

    @property
    def record_digest(self) -> str:
        """SHA-256 of the attached record."""
        return digest(self.record)


@dataclass(frozen=True)
class NotARecord:
    """The file is no PDF, no record is attached to it, or one of a format that is not known here."""

    says: str = "This is not a record's PDF: it cannot be read, or no record is attached to it."


def record_of(
    content: bytes,
    attached: Mapping[str, bytes],
    *,
    reader: Any = None,  # noqa: ANN401  # the library's own
) -> RecordFile | NotARecord:
    """A record's PDF that was taken apart."""
    document = document_of(attached.get(RECORD, b""), FORMAT)
    if isinstance(document, NotARecord):
        return document
    proof = read_proof(attached.get(PROOF, b""))
    if isinstance(proof, Unreadable) and proof.says:
        return NotARecord(says=newer(proof.says))
    return RecordFile(
        content=content,
        record=attached[RECORD],
        document=document,
        signatures={
            letter: attached[name].decode("ascii", "replace")
            for letter, name in SIGNATURES.items()
            if name in attached
        },
        proof=None if isinstance(proof, Unreadable) else proof,
        renderer=attached.get(RENDERER, b""),
        reader=reader,
    )


def document_of(written: bytes, known: Format) -> dict[str, Any] | NotARecord:
    """What a document is known by has to be there; whether the rest is as it should be is asked later."""
    try:
        found = orjson.loads(written)
    except ValueError:
        return NotARecord()
    if not isinstance(found, dict):
        return NotARecord()
    version = known.find_version(found)
    if isinstance(version, UnknownFormat):
        return NotARecord(says=newer(version.says)) if version.is_ours else NotARecord()
    return found if is_named(found) else NotARecord()


def is_named(document: Mapping[str, Any]) -> bool:
    """Whether it says which record and edition it is, in words that may be repeated to whoever asks."""
    record, edition = document.get("record"), document.get("edition")
    is_id = type(record) is str and _ID.fullmatch(record) is not None
    return is_id and type(edition) is int and 0 < edition <= _LAST_EDITION


def newer(says: str) -> str:
    """What to do with a file whose format is not known here."""
    return f"{says[0].upper()}{says[1:]}: verify the file with a newer version."
