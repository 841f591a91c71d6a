"""Verify what followed a record: each event that it tells of, by its entry in the site's log."""

import json
from collections.abc import Mapping
from typing import Any

from app.auditing.verifying_contents import OTHER_RENDERER, same_pages
from app.records.canonical import canonical, digest
from app.records.checkpoint import Checkpoint, Place, holds
from app.records.events import RecordFrozen
from app.records.verification import Answer, Question
from app.records.what_followed import as_read
from app.reports.followed_file import FollowedFile
from app.reports.renderer import is_this_renderer
from app.reports.what_followed import render_what_followed


def is_whole(file: FollowedFile) -> Answer:
    """Whether the attached document is written in its one form."""
    whole = canonical(file.document) == file.written
    says = (
        f"Its SHA-256 is {digest(file.written)}."
        if whole
        else "What is attached is not written in the one form of such a document (RFC 8785)."
    )
    return Answer(question=Question.FOLLOWED, holds=whole, says=says)


def is_in_log(file: FollowedFile, *, is_signed: bool) -> Answer:
    """Whether each event stands in the log as it is told; `is_signed`: the site signed that checkpoint."""
    shown = file.shown
    if shown is None:
        says = "The file does not show the entries of the log."
    elif not is_signed:
        says = "The checkpoint inside the file is not signed by this site."
    elif not _are_told(file.document, shown.places, shown.checkpoint):
        says = "Not every event that it tells of is what the log says, at the position that is named."
    else:
        told = len(shown.places)
        says = f"{told} entries of {shown.checkpoint.size} say what it tells, each at its position."
        return Answer(question=Question.EVENTS, holds=True, says=says)
    return Answer(question=Question.EVENTS, holds=False, says=says)


def _are_told(document: Mapping[str, Any], places: tuple[Place, ...], checkpoint: Checkpoint) -> bool:
    told = document.get("entries")
    if not isinstance(told, list) or len(told) != len(places) or not told:
        return False
    return _is_freezing(document, told[0]) and all(
        isinstance(each, dict) and _is_entry(each, place, checkpoint)
        for each, place in zip(told, places, strict=True)
    )


def _is_freezing(document: Mapping[str, Any], first: object) -> bool:
    frozen = {"edition": document.get("edition"), "digest": document.get("follows")}
    return (
        isinstance(first, dict)
        and first.get("kind") == RecordFrozen.kind
        and first.get("check") == document.get("record")
        and first.get("data") == frozen
    )


def _is_entry(told: Mapping[str, Any], place: Place, checkpoint: Checkpoint) -> bool:
    """Whether an entry stands in the log at its position, and says what is told; names are no part of it."""
    try:
        written = json.loads(place.leaf)
        said = as_read(written)
    except (ValueError, LookupError, TypeError):
        return False
    without_names = {name: value for name, value in told.items() if name not in ("by", "witness")}
    return holds(place, checkpoint) and place.position == written["position"] and without_names == said


def pages_of(file: FollowedFile) -> Answer:
    """Whether the pages made again from the attached document are the file's."""
    if not is_this_renderer(file.renderer):
        return Answer(question=Question.PAGES, holds=None, says=OTHER_RENDERER)
    return same_pages(file.content, lambda: render_what_followed(file.document, shown=file.shown))
