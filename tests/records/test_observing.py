"""When a patient is observed next, by the published protocol and by a site's own."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from app.records.observing import Facts, due_after, next_due, protocol_from
from tests.factories.seeded import seeded

BEGAN = datetime.fromisoformat("2031-05-02T08:00:00+00:00")
LONG_AGO = BEGAN - timedelta(days=3)
PUBLISHED = seeded("observations")
PROTOCOL = protocol_from(PUBLISHED)
# Started long ago, and the clock starts anew: nothing else shortens what the stages say.
PLAIN = Facts(given_since=LONG_AGO, clock_since=BEGAN)


def minutes_of(facts: Facts, until: int) -> list[int]:
    """At which minutes from the start of the clock the patient is due to be observed."""
    found: list[int] = []
    now = facts.clock_since
    while not found or found[-1] < until:
        now = next_due(PROTOCOL, facts, now)
        found.append(int((now - facts.clock_since) / timedelta(minutes=1)))
    return found


def test_the_published_protocol_minute_by_minute() -> None:
    """Half-hourly for 1 h, hourly for 4 h, two-hourly for 6 h, then four-hourly."""
    hours = [2, 3, 4, 5, 7, 9, 11, 15, 19, 23]
    assert minutes_of(PLAIN, 23 * 60) == [30, 60, *(hour * 60 for hour in hours)]


@pytest.mark.parametrize("facts", [replace(PLAIN, is_continuous=True), replace(PLAIN, is_at_risk=True)])
def test_never_longer_than_two_hours_with_a_continuous_part_or_a_risk(facts: Facts) -> None:
    told = minutes_of(facts, 19 * 60)
    assert told[:9] == minutes_of(PLAIN, 11 * 60)
    assert told[9:] == [13 * 60, 15 * 60, 17 * 60, 19 * 60]


def test_nor_within_a_day_of_the_start() -> None:
    told = minutes_of(replace(PLAIN, given_since=BEGAN), 30 * 60)
    assert told[9:] == [hour * 60 for hour in (13, 15, 17, 19, 21, 23, 25, 29, 33)]


def test_after_a_reversal_agent_every_quarter_of_an_hour_for_two_hours() -> None:
    told = minutes_of(replace(PLAIN, reversed_at=BEGAN), 180)
    assert told == [15, 30, 45, 60, 75, 90, 105, 120, 180]


def test_the_next_one_is_after_now_and_the_first_is_told_before_anything_is_observed() -> None:
    half_past = BEGAN + timedelta(minutes=30)
    assert next_due(PROTOCOL, PLAIN, PLAIN.clock_since) == half_past
    assert next_due(PROTOCOL, PLAIN, half_past - timedelta(seconds=1)) == half_past
    assert next_due(PROTOCOL, PLAIN, half_past) == BEGAN + timedelta(hours=1)
    # By a clock that was put back the first one is still to come.
    assert next_due(PROTOCOL, PLAIN, BEGAN - timedelta(hours=1)) == BEGAN


def test_a_sites_own_protocol_rules() -> None:
    own = protocol_from(
        {
            **PUBLISHED,
            "stages": [{"every_minutes": 10, "for_minutes": 20}],
            "then_every_minutes": 60,
            "reminds": True,
        }
    )
    assert own.reminds
    times = [BEGAN]
    for _ in range(4):
        times.append(next_due(own, PLAIN, times[-1]))
    assert [int((each - BEGAN) / timedelta(minutes=1)) for each in times] == [0, 10, 20, 80, 140]


def test_the_next_one_is_due_so_long_after_the_last_one_that_was_told_of() -> None:
    """Late or early, it is counted from there; before the clock started it counts for nothing."""
    minutes = {at: due_after(PROTOCOL, PLAIN, BEGAN + timedelta(minutes=at)) for at in (-40, 0, 25, 50, 70)}

    assert {at: int((due - BEGAN) / timedelta(minutes=1)) for at, due in minutes.items()} == {
        -40: 30,
        0: 30,
        25: 55,
        50: 80,
        70: 130,
    }
