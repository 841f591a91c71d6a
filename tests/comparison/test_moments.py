"""Dates and times as they may be typed; the standard library reads the same instants out of them."""

from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.comparison.moments import Moment, find_moment, is_past

REFUSED = [
    "",
    "2031",
    "2031-5-2",
    "2031-05-32",
    "2031-02-29",
    "2031-13-01",
    "0000-01-01",
    "02.05.2031",
    "20310502",
    "2031-05-02 14:10Z",
    "2031-05-02T14:10",
    "2031-05-02T14Z",
    "2031-05-02T24:00Z",
    "2031-05-02T14:60Z",
    "2031-05-02T14:10:60Z",
    "2031-05-02T14:10:00.Z",
    "2031-05-02T14:10:00,5Z",
    "2031-05-02T14:10z",
    "2031-05-02t14:10Z",
    "2031-05-02T14:10+0200",
    "2031-05-02T14:10+2:00",
    "2031-05-02T14:10+24:00",
    "2031-05-02T14:10+02:60",
    "2031-05-02T14:10Z ",
    "2031-05-02\n",
    "\u06622031-05-02",
    "\u0662\u0660\u0663\u0661-05-02",
]


@pytest.mark.parametrize("text", REFUSED, ids=range(len(REFUSED)))
def test_refused(text: str) -> None:
    assert find_moment(text) is None


@given(
    st.datetimes(timezones=st.timezones()),
    st.sampled_from(("minutes", "seconds", "milliseconds", "microseconds")),
)
def test_an_instant_is_the_one_that_the_standard_library_reads(moment: datetime, precision: str) -> None:
    offset = moment.utcoffset()
    if offset is None or offset.total_seconds() % 60:
        return
    text = moment.isoformat(timespec=precision)
    expected = datetime.fromisoformat(text)
    read = find_moment(text)
    assert read is not None
    assert read.day == expected.date()
    since = expected - datetime(1, 1, 2, tzinfo=UTC)
    seconds = Fraction(since.days * 86400 + since.seconds) + Fraction(since.microseconds, 10**6)
    # The first of January of the first year is day one.
    assert read.instant == seconds + 2 * 86400


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        # The first day of the calendar is day one, of 86,400 s.
        ("0001-01-01T00:00Z", "86400"),
        ("0001-01-02T00:00:00Z", "172800"),
        ("0001-01-02T01:02:03.5Z", "176523.5"),
        # An hour and a half ahead of UTC, and as much behind.
        ("0001-01-02T01:02:03.5+01:30", "171123.5"),
        ("0001-01-02T01:02:03.5-01:30", "181923.5"),
    ],
)
def test_an_instant_is_counted_in_seconds_of_utc(text: str, instant: str) -> None:
    assert moment(text).instant == Fraction(instant)


def test_a_day_is_no_instant() -> None:
    read = find_moment("2031-05-02")
    assert read is not None
    assert (read.day.isoformat(), read.instant) == ("2031-05-02", None)


def test_z_is_utc_and_fractions_are_kept() -> None:
    instants = [
        find_moment(text)
        for text in ("2031-05-02T12:10Z", "2031-05-02T12:10:00+00:00", "2031-05-02T09:40:00.000-02:30")
    ]
    assert len({moment.instant for moment in instants if moment}) == 1
    later = find_moment("2031-05-02T12:10:00.000000000001Z")
    assert later is not None
    assert instants[0] is not None
    assert later.instant is not None
    assert instants[0].instant is not None
    assert later.instant - instants[0].instant == Fraction(1, 10**12)


def moment(text: str) -> Moment:
    read = find_moment(text)
    assert read is not None
    return read


@pytest.mark.parametrize(
    ("use_by", "read_at", "is_late"),
    [
        ("2031-05-02", "2031-05-02T23:59:59+14:00", False),
        ("2031-05-02", "2031-05-03T00:00+14:00", True),
        ("2031-05-02", "2031-05-03T00:00-12:00", True),
        ("2031-05-02T10:00Z", "2031-05-02T12:00+02:00", False),
        ("2031-05-02T10:00Z", "2031-05-02T12:00:01+02:00", True),
        ("2031-05-02T10:00Z", "2031-05-02T08:00-02:00", False),
        ("2031-05-02T10:00Z", "2031-05-01T23:00-12:00", True),
    ],
)
def test_use_by(use_by: str, read_at: str, *, is_late: bool) -> None:
    assert is_past(moment(use_by), moment(read_at)) is is_late
