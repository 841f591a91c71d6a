"""How an event is written down, and when it was."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from app.records import events
from app.records.written import as_data, from_data, iso


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
