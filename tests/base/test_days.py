from datetime import UTC, date, datetime

import pytest

from app.base.days import read_day, read_moment


def test_a_day_is_written_in_one_way_only() -> None:
    assert read_day("2031-05-02") == date(2031, 5, 2)
    for text in ("20310502", "2031-W18-5", "2031-5-2", "today", ""):
        assert read_day(text) is None


@pytest.mark.parametrize("text", ["0001-01-01", "0031-05-02", "1899-12-31", "3000-01-01", "9999-12-31"])
def test_a_day_that_nobody_can_mean_is_none(text: str) -> None:
    assert read_day(text) is None
    assert read_moment(f"{text}T12:00:00+00:00") is None


def test_the_first_and_the_last_of_all_days_are_read() -> None:
    assert [read_day(each) for each in ("1900-01-01", "2999-12-31")] == [
        date(1900, 1, 1),
        date(2999, 12, 31),
    ]


def test_a_moment_is_read_with_its_offset_and_is_utc() -> None:
    read = read_moment("2031-05-02T14:05:00.000017+02:00")
    assert read == datetime(2031, 5, 2, 12, 5, 0, 17, tzinfo=UTC)
    assert read.tzinfo is UTC


@pytest.mark.parametrize(
    "text",
    [
        "",
        "now",
        "2031-05-02",
        "2031-05-02T14:05:00",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
    ],
)
def test_what_has_no_offset_or_no_place_in_utc_is_no_moment(text: str) -> None:
    assert read_moment(text) is None
