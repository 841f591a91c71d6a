"""What followed a record, as a file: what travels inside its PDF, and the file as it lies before somebody.

Attached are `log-entries.json`, the entries of the log that it tells of, their paths, and the checkpoint that
they lead to; `renderer.json`, which renderer made the pages; and `what-followed.json`, the document that the
pages are made from.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

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
from app.records.formats import LOG_ENTRIES, WHAT_FOLLOWED
from app.reports.attachments import (
    RENDERER,
    Attached,
    NoAttachments,
    Relationship,
    attachments_in,
    open_pdf,
    renderer_of,
)
from app.reports.competency_file import COMPETENCY, CompetencyFile, competency_of
from app.reports.record_file import NotARecord, RecordFile, document_of, record_of

FOLLOWED = "what-followed.json"
ENTRIES = "log-entries.json"


@dataclass(frozen=True, kw_only=True)
class ShownEntries:
    """The places of some entries of the log, under one checkpoint of it."""

    places: tuple[Place, ...]
    checkpoint: Checkpoint


@dataclass(frozen=True, kw_only=True)
class FollowedFile:
    """What followed one record, opened; nothing is believed of it yet."""

    content: bytes
    written: bytes
    document: dict[str, Any]
    shown: ShownEntries | None
    renderer: bytes
    # As the library opened it.
    reader: Any = field(repr=False, compare=False)


def open_document(content: bytes) -> RecordFile | FollowedFile | CompetencyFile | NotARecord:
    """Take a record's PDF apart, that of what followed one, or that of somebody's training."""
    reader = open_pdf(content)
    attached = reader if isinstance(reader, NoAttachments) else attachments_in(reader)
    if isinstance(attached, NoAttachments):
        return NotARecord()
    if COMPETENCY in attached:
        return competency_of(content, attached, reader=reader)
    if FOLLOWED in attached:
        return followed_of(content, attached, reader=reader)
    return record_of(content, attached, reader=reader)


def attachments_of(
    document: bytes, *, shown: ShownEntries | None, renderer: bytes, at: datetime
) -> tuple[Attached, ...]:
    """What is attached to the pages, by name."""
    told = Attached(
        name=FOLLOWED,
        content=document,
        media_type="application/json",
        relationship=Relationship.DATA,
        description="What followed the record, as data (RFC 8785); the site sealed it, and nobody signed it",
        at=at,
    )
    entries = [_attached_entries(shown, at)] if shown else []
    return (*entries, renderer_of(renderer, at), told)


def _attached_entries(shown: ShownEntries, at: datetime) -> Attached:
    return Attached(
        name=ENTRIES,
        content=canonical(
            {
                "format": LOG_ENTRIES.newest,
                "checkpoint": as_data(shown.checkpoint),
                "entries": [place_as_data(each) for each in shown.places],
            }
        ),
        media_type="application/json",
        relationship=Relationship.SUPPLEMENT,
        description="The entries of the site's log, their places, and the signed checkpoint (RFC 6962)",
        at=at,
    )


def followed_of(
    content: bytes,
    attached: Mapping[str, bytes],
    *,
    reader: Any = None,  # noqa: ANN401  # the library's own
) -> FollowedFile | NotARecord:
    """A PDF of what followed a record, taken apart."""
    document = document_of(attached.get(FOLLOWED, b""), WHAT_FOLLOWED)
    if isinstance(document, NotARecord):
        return document
    return FollowedFile(
        content=content,
        written=attached[FOLLOWED],
        document=document,
        shown=_read_entries(attached.get(ENTRIES, b"")),
        renderer=attached.get(RENDERER, b""),
        reader=reader,
    )


def _read_entries(content: bytes) -> ShownEntries | None:
    """The entries that are shown; None where they cannot be read."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return None
    if not isinstance(data, dict) or data.keys() != {"format", "checkpoint", "entries"}:
        return None
    if unknown_format(LOG_ENTRIES, data) or not isinstance(data["entries"], list):
        return None
    checkpoint = from_data(data["checkpoint"])
    places = [place_from_data(each) for each in data["entries"]]
    known = tuple(each for each in places if not isinstance(each, Unreadable))
    if isinstance(checkpoint, Unreadable) or len(known) < len(places):
        return None
    return ShownEntries(places=known, checkpoint=checkpoint)
