"""The boluses that staff gave, as a fold: when, by whom, looked at or not; never how much."""

from datetime import timedelta

from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.boluses import Boluses
from app.records.events import Event
from tests.records.test_emergencies import BEGAN, MINUTE, STARTED, STOPPED, told

GIVEN = StaffBolusGiven(look="2", in_force="1")


def looked(bolus: str = "", *, within: bool = True) -> BolusLooked:
    return BolusLooked(
        bolus=bolus, scale="0 to 3", sedation="level-7", respiratory_rate="17 /min", within=within
    )


def boluses(*events: Event) -> Boluses:
    return told(STARTED, *events).boluses


def test_a_look_that_allows_it_stands_until_the_bolus_a_stop_or_another_look() -> None:
    look = boluses(looked()).look
    assert look is not None
    assert (look.position, look.at, look.by) == (2, BEGAN + 2 * MINUTE, "nadia")
    for event in (GIVEN, STOPPED, STARTED, looked(within=False)):
        assert boluses(looked(), event).look is None


def test_it_counts_for_whoever_looked_and_only_for_a_while() -> None:
    look = boluses(looked()).look
    assert look is not None
    valid = timedelta(minutes=15)
    assert look.is_fresh("nadia", look.at + valid, valid)
    assert not look.is_fresh("nadia", look.at + valid + MINUTE, valid)
    assert not look.is_fresh("nadia", look.at - MINUTE, valid)
    assert not look.is_fresh("tomas", look.at, valid)


def test_its_peak_is_written_down_once_whatever_was_seen() -> None:
    (bolus,) = boluses(looked(), GIVEN).given
    assert (bolus.position, bolus.in_force, bolus.seen_at) == (3, "1", None)
    assert boluses(looked(), GIVEN).to_be_seen == bolus
    for within in (True, False):
        (seen,) = boluses(looked(), GIVEN, looked("3", within=within), looked("3")).given
        assert seen.seen_at == BEGAN + 4 * MINUTE
    assert boluses(looked(), GIVEN, looked("9")).to_be_seen is not None
    assert boluses(looked(), GIVEN, looked("3")).to_be_seen is None
    assert boluses().to_be_seen is None


def test_how_many_were_given_from_a_moment_on() -> None:
    given = boluses(GIVEN, GIVEN)
    assert [given.since(BEGAN + minute * MINUTE) for minute in (2, 3, 4)] == [2, 1, 0]


def test_nothing_that_was_observed_is_part_of_it() -> None:
    said = repr(told(STARTED, looked(), GIVEN, looked("3")))
    assert "level-7" not in said
    assert "17 /min" not in said
