"""Which formats a file of the samples says."""

import re
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path

from app.records.formats import ENVELOPE
from app.reports.attachments import NoAttachments, read_attachments

_SAID = re.compile(rb"countersign\.[a-z-]+/[1-9][0-9]*")


def formats_in(file: Path) -> frozenset[str]:
    """Each format that stands in it in plain sight, or in what is attached to it."""
    content = file.read_bytes()
    if file.suffix == ".envelope":
        # It says its version by its first byte.
        return frozenset({ENVELOPE.said(content[0])})
    if file.suffix == ".sqlite3":
        return frozenset(_said_in(_values(file)))
    texts = [content]
    if file.suffix == ".pdf":
        attached = read_attachments(content)
        assert not isinstance(attached, NoAttachments)
        texts = list(attached.values())
    return frozenset(_said_in(texts))


def _said_in(texts: Iterable[bytes]) -> Iterator[str]:
    return (found.decode() for text in texts for found in _SAID.findall(text))


def _values(file: Path) -> Iterator[bytes]:
    """Every text and every document of a store."""
    with closing(sqlite3.connect(file)) as kept:
        named = kept.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        for (name,) in named:
            for row in kept.execute(f'SELECT * FROM "{name}"'):  # noqa: S608  # a table's name
                yield from (
                    each.encode() if isinstance(each, str) else each
                    for each in row
                    if isinstance(each, str | bytes)
                )
