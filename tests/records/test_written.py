"""How an event is written down, and when it was."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from app.records import events
from app.records.formats import LOG_ENTRY
from app.records.kept import Entry
from app.records.written import as_data, entry_content, from_data, iso


def test_a_moment_is_written_in_utc_always_as_long() -> None:
    noon = datetime(2031, 5, 2, 12, 0, tzinfo=timezone(timedelta(hours=2)))

    assert iso(noon) == "2031-05-02T10:00:00.000000Z"
    assert iso(noon.replace(microsecond=7)) == "2031-05-02T10:00:00.000007Z"
    assert len(iso(noon.astimezone(UTC))) == 27


def test_a_moment_of_no_zone_is_a_bug() -> None:
    with pytest.raises(ValueError, match="a stored time must be aware"):
        iso(datetime(2031, 5, 2, 12, 0))  # noqa: DTZ001  # what is refused


def test_an_event_comes_back_as_it_was() -> None:
    event = events.NextReadingOpened(
        round=2, scope=(("device", ("lockout",)), ("label", ())), touched=("label",), why="replaced"
    )
    told = as_data(event)
    listed = {**told, "scope": [["device", ["lockout"]], ["label", []]], "touched": ["label"]}

    assert from_data(event.kind, listed) == event


def test_an_entry_is_written_with_all_that_the_log_keeps_of_it() -> None:
    at = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
    entry = Entry(
        position=7,
        at=at,
        by="nadia",
        infusion="infusion-1",
        check="check-1",
        session="s",
        device="d",
        signed_in_at=at,
        event=events.Joined(slot=2),
        canonical=b"",
    )
    kept = json.loads(entry_content(entry))

    assert kept == {
        "format": LOG_ENTRY.newest,
        "position": 7,
        "at": "2031-05-02T12:00:00.000000Z",
        "by": "nadia",
        "infusion": "infusion-1",
        "check": "check-1",
        "session": "s",
        "device": "d",
        "signed_in_at": "2031-05-02T12:00:00.000000Z",
        "kind": "joined",
        "data": {"slot": 2},
    }
    assert json.loads(entry_content(replace(entry, signed_in_at=None)))["signed_in_at"] is None
