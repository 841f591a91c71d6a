"""Shift changes are local times of day; an hour set back or forward loses none."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from app.records.shifts import is_time_of_day, last_change

DUBLIN = ZoneInfo("Europe/Dublin")
CHANGES = ("07:00", "19:00")

# Clocks in Dublin went forward at 01:00 UTC on 30 March 2025 and back at 01:00 UTC on 26 October 2025
# (IANA time zone database, Europe/Dublin).
CASES = {
    "in the day": ("2025-05-02T12:00+01:00", CHANGES, "2025-05-02T07:00+01:00"),
    "at the very moment": ("2025-05-02T19:00+01:00", CHANGES, "2025-05-02T19:00+01:00"),
    "a minute before": ("2025-05-02T18:59+01:00", CHANGES, "2025-05-02T07:00+01:00"),
    "in the night": ("2025-05-02T03:00+01:00", CHANGES, "2025-05-01T19:00+01:00"),
    "one change a day, before it": ("2025-05-02T06:59+01:00", ("07:00",), "2025-05-01T07:00+01:00"),
    "the night the clocks go forward": ("2025-03-30T07:00+01:00", CHANGES, "2025-03-30T07:00+01:00"),
    "the first 01:30 of two": ("2025-10-26T01:45+01:00", ("01:30",), "2025-10-26T01:30+01:00"),
    "after the second 01:30": ("2025-10-26T02:15+00:00", ("01:30",), "2025-10-26T01:30+01:00"),
}


@pytest.mark.parametrize("case", CASES)
def test_the_latest_change_that_has_been(case: str) -> None:
    now, changes, wanted = CASES[case]

    found = last_change(datetime.fromisoformat(now), DUBLIN, changes)
    assert found == datetime.fromisoformat(wanted)
    assert found.tzinfo is UTC


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("07:00", True),
        ("23:59", True),
        ("24:00", False),
        ("7:00", False),
        ("07:00:00", False),
        ("07:60", False),
        ("", False),
    ],
)
def test_what_a_time_of_day_is(text: str, *, is_one: bool) -> None:
    assert is_time_of_day(text) is is_one
