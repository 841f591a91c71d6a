"""What travels inside a record's PDF, so that it can be checked with the file alone.

    log-proof.json     the second signature's entry in the log, the entries about both signers' keys and those
                       of their confirmers up to the founding two, their paths, and the checkpoint that they
                       lead to
    record.json        the canonical bytes that both signed, and that the pages are made from
    renderer.json      which renderer made the pages: only the same one makes them again
    signature-A.jws    the first nurse's signature over them (detached, RFC 7515, appendix F)
    signature-B.jws    the second nurse's

A file that lacks one of them still opens, and verification says what is missing.
"""

import io
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from app.base.damage import Damaged, read_or_damaged
from app.records.canonical import canonical
from app.records.checkpoint import (
    Checkpoint,
    Place,
    Unreadable,
    as_data,
    from_data,
    place_as_data,
    place_from_data,
    unknown_format,
)
from app.records.formats import LOG_PROOF
from app.records.kept import LETTERS

if TYPE_CHECKING:
    from pyhanko.pdf_utils.reader import PdfFileReader

RECORD = "record.json"
PROOF = "log-proof.json"
RENDERER = "renderer.json"
SIGNATURES = {letter: f"signature-{letter}.jws" for letter in LETTERS}

_OF_A_KEY = ("made", "confirmed")


class Relationship(StrEnum):
    """What an attachment is to the pages (ISO 19005-3, annex E)."""

    DATA = "Data"
    SUPPLEMENT = "Supplement"


@dataclass(frozen=True, kw_only=True)
class Attached:
    """One file inside a PDF; its date is one that the record knows: the same record gives the same PDF."""

    name: str
    content: bytes
    media_type: str
    relationship: Relationship
    description: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class ConfirmedKey:
    """Where the log says that a key was made and confirmed."""

    made: Place
    confirmed: Place


@dataclass(frozen=True, kw_only=True)
class LogProof:
    """Where the second signature stands in the log, under one checkpoint of it.

    And the keys of both signers and of those who confirmed them, up to the two people with whom the keys of
    the site began; of that beginning, and of each later one, where it stands.
    """

    place: Place
    keys: tuple[ConfirmedKey, ...]
    foundings: tuple[Place, ...]
    checkpoint: Checkpoint


@dataclass(frozen=True)
class NoAttachments:
    """The file's attachments cannot be read: it is no PDF, or they are not laid out as in a record."""


def attachments_of(
    document: bytes, *, signatures: Mapping[str, str], proof: LogProof | None, renderer: bytes, at: datetime
) -> tuple[Attached, ...]:
    """A record's attachments by name; signatures are by clinician's letter, and an empty one is left out."""
    signed = [
        attached_signature(
            SIGNATURES[letter], signature, f"Signature of clinician {letter} over {RECORD}", at
        )
        for letter, signature in sorted(signatures.items())
        if signature
    ]
    record = Attached(
        name=RECORD,
        content=document,
        media_type="application/json",
        relationship=Relationship.DATA,
        description="The record as data: the bytes that both signed (RFC 8785)",
        at=at,
    )
    proofs = [attached_proof(proof, at)] if proof else []
    return (*proofs, record, renderer_of(renderer, at), *signed)


def attached_signature(name: str, signature: str, says: str, at: datetime) -> Attached:
    """A signature, under its name; `says` whose it is, over what."""
    return Attached(
        name=name,
        content=signature.encode("ascii"),
        # RFC 7515, 9.2.1.
        media_type="application/jose",
        relationship=Relationship.SUPPLEMENT,
        description=f"{says} (RFC 7515, detached)",
        at=at,
    )


def renderer_of(renderer: bytes, at: datetime) -> Attached:
    """Which renderer made the pages, of whatever document."""
    return Attached(
        name=RENDERER,
        content=renderer,
        media_type="application/json",
        relationship=Relationship.SUPPLEMENT,
        description="Which renderer made the pages",
        at=at,
    )


def proof_content(proof: LogProof) -> bytes:
    """The bytes of `log-proof.json`."""
    return canonical(
        {
            "format": LOG_PROOF.newest,
            "checkpoint": as_data(proof.checkpoint),
            "entry": place_as_data(proof.place),
            "foundings": [place_as_data(each) for each in proof.foundings],
            "keys": [{name: place_as_data(getattr(each, name)) for name in _OF_A_KEY} for each in proof.keys],
        }
    )


def read_proof(content: bytes) -> LogProof | Unreadable:
    """What `proof_content` wrote."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return Unreadable()
    if not isinstance(data, dict):
        return Unreadable()
    if unknown := unknown_format(LOG_PROOF, data):
        return unknown
    if data.keys() != {"format", "checkpoint", "entry", "foundings", "keys"}:
        return Unreadable()
    checkpoint, place = from_data(data["checkpoint"]), place_from_data(data["entry"])
    keys, foundings = _read_keys(data["keys"]), _read_places(data["foundings"])
    if isinstance(checkpoint, Unreadable):
        return checkpoint
    if isinstance(place, Unreadable) or isinstance(keys, Unreadable) or isinstance(foundings, Unreadable):
        return Unreadable()
    return LogProof(place=place, keys=keys, foundings=foundings, checkpoint=checkpoint)


def _read_places(data: object) -> tuple[Place, ...] | Unreadable:
    found = [place_from_data(each) for each in data] if isinstance(data, list) else [Unreadable()]
    read = tuple(each for each in found if not isinstance(each, Unreadable))
    return read if len(read) == len(found) else Unreadable()


def _read_keys(data: object) -> tuple[ConfirmedKey, ...] | Unreadable:
    if not isinstance(data, list):
        return Unreadable()
    read = []
    for each in data:
        if not isinstance(each, dict) or each.keys() != set(_OF_A_KEY):
            return Unreadable()
        places = {name: place_from_data(each[name]) for name in _OF_A_KEY}
        known = {name: place for name, place in places.items() if not isinstance(place, Unreadable)}
        if len(known) < len(_OF_A_KEY):
            return Unreadable()
        read.append(ConfirmedKey(**known))
    return tuple(read)


def read_attachments(content: bytes) -> Mapping[str, bytes] | NoAttachments:
    """The files inside a PDF by their names; whether they are a record's is not asked."""
    opened = open_pdf(content)
    return opened if isinstance(opened, NoAttachments) else attachments_in(opened)


def open_pdf(content: bytes) -> "PdfFileReader | NoAttachments":
    """The PDF as the library reads it."""
    # Loading the library takes a third of a second, which nobody who only renders should wait for.
    from pyhanko.pdf_utils.decode_limits import DecodeLimits  # noqa: PLC0415
    from pyhanko.pdf_utils.reader import PdfFileReader  # noqa: PLC0415

    limits = DecodeLimits.for_untrusted_input()
    opened = read_or_damaged(lambda: PdfFileReader(io.BytesIO(content), decode_limits=limits))
    return NoAttachments() if isinstance(opened, Damaged) else opened


def attachments_in(reader: "PdfFileReader") -> Mapping[str, bytes] | NoAttachments:
    """The files inside a PDF that was opened."""
    found = read_or_damaged(lambda: _read(reader))
    return NoAttachments() if isinstance(found, Damaged) else found


def _read(reader: "PdfFileReader") -> dict[str, bytes]:
    listed = reader.root["/Names"]["/EmbeddedFiles"]["/Names"]
    found = {
        str(listed[place]): bytes(listed[place + 1]["/EF"]["/F"].data) for place in range(0, len(listed), 2)
    }
    if 2 * len(found) != len(listed):
        raise ValueError("a name stands twice")
    return found


def attached_proof(proof: LogProof, at: datetime) -> Attached:
    """The place in the log that the file shows."""
    return Attached(
        name=PROOF,
        content=proof_content(proof),
        media_type="application/json",
        relationship=Relationship.SUPPLEMENT,
        description="The second signature's place in the site's log, and the signed checkpoint (RFC 6962)",
        at=at,
    )
