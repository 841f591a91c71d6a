"""The boluses that staff gave, as a fold: when, by whom, looked at or not; never how much."""

from dataclasses import replace
from datetime import timedelta

from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.boluses import Boluses, BolusLook
from app.records.ending_events import InfusionEnded
from app.records.events import CheckDone, Event
from app.records.infusion import fold_infusion
from app.records.kinds import RE_CHECK
from tests.records.test_emergencies import (
    BEGAN,
    HURRIED,
    MINUTE,
    REVERSED,
    STARTED,
    STOPPED,
    entries_of,
    told,
)

GIVEN = StaffBolusGiven(look="2", in_force="1")
SECOND = timedelta(seconds=1)


def looked(bolus: str = "", *, within: bool = True) -> BolusLooked:
    return BolusLooked(
        bolus=bolus, scale="0 to 3", sedation="level-7", respiratory_rate="17 /min", within=within
    )


def boluses(*events: Event) -> Boluses:
    return told(STARTED, *events).boluses


def look_after(*events: Event, who: str = "nadia") -> BolusLook | None:
    return boluses(*events).look_of(who)


def by_tomas(*events: Event, whose: int) -> Boluses:
    """As told, where the entry at this position is of another nurse."""
    entries = [
        replace(each, by="tomas") if each.position == whose else each for each in entries_of(STARTED, *events)
    ]
    return fold_infusion("infusion-1", entries).boluses


def test_a_look_that_allows_it_stands_until_the_bolus_the_end_or_the_next_of_its_own() -> None:
    look = look_after(looked())
    assert look is not None
    assert (look.position, look.at, look.by) == (2, BEGAN + 2 * MINUTE, "nadia")
    assert look_after(looked(), who="tomas") is look_after() is None
    # What else happens leaves it as it is.
    assert look_after(looked(), REVERSED) == look
    for event in (GIVEN, InfusionEnded(check_kind="end-of-pca")):
        assert look_after(looked(), event) is None
    again = look_after(looked(), looked())
    assert again is not None
    assert again.position == 3
    two = by_tomas(looked(), looked(), whose=3)
    assert [each.by for each in two.looks] == ["nadia", "tomas"]


def test_after_a_look_outside_the_protocol_it_counts_only_for_what_was_given_before() -> None:
    for each in (boluses(looked(), looked(within=False)), by_tomas(looked(), looked(within=False), whose=3)):
        look = each.look_of("nadia")
        assert look is not None
        assert look.outside_at == look.ended_at == BEGAN + 3 * MINUTE
        assert not look.is_fresh("nadia", look.at + MINUTE, timedelta(minutes=15))
        valid, now = timedelta(minutes=15), look.at + timedelta(hours=1)
        assert look.given_at("", now, valid) == look.outside_at
        for seconds, says in ((59, True), (60, True), (61, False)):
            at = (look.at + timedelta(seconds=seconds)).isoformat()
            assert look.allows(at, now) is says
        assert look.allows("", now)
        assert not look.allows("about two", now)
    # What came first counts: nothing was given to a device that stood.
    look = look_after(looked(), STOPPED, looked(within=False))
    assert look is not None
    assert (look.ended_at, look.outside_at) == (BEGAN + 3 * MINUTE, None)
    assert look.allows((look.at + 9 * MINUTE).isoformat(), look.at + timedelta(hours=1))


def test_after_a_start_it_counts_only_for_what_is_said_to_have_been_given_before_it() -> None:
    """By the check that was in force then; after a second start as after the first."""
    anew = replace(entries_of(STARTED)[0], position=4, at=BEGAN + 4 * MINUTE, check="2")
    for start in (anew, replace(anew, check="", event=HURRIED)):
        for before, ended_at in ((looked("9"), 4), (STOPPED, 3)):
            entries = entries_of(STARTED, looked(), before)
            for starts in ([start], [start, replace(start, position=5, at=BEGAN + 9 * MINUTE)]):
                look = fold_infusion("infusion-1", [*entries, *starts]).boluses.look_of("nadia")
                assert look is not None
                assert (look.ended_at, look.started_at) == (BEGAN + ended_at * MINUTE, start.at)
                assert not look.is_fresh("nadia", look.at, timedelta(minutes=15))
                assert look.in_force_at(look.at) == look.in_force_at(start.at - timedelta(seconds=1)) == "1"
                now = look.at + timedelta(hours=3)
                for text, says in ((-1, True), (119, True), (120, False), (400, False)):
                    at = (look.at + timedelta(seconds=text)).isoformat()
                    assert look.is_before_start(at, now) is says
                # The latest that it can have been is not said to have been before it.
                assert not look.is_before_start("", now)
                assert not look.is_before_start("about two", now)
    look = look_after(looked(), STOPPED)
    assert look is not None
    assert look.is_before_start("", BEGAN + timedelta(hours=1))


def test_a_look_is_of_the_check_in_force_when_it_was_given() -> None:
    """A re-check that was done since put what it read in force, and ends no look."""
    entries = entries_of(STARTED, looked(), CheckDone(check_kind=RE_CHECK.name), looked("9"))
    done = replace(entries[2], check="2")
    look = fold_infusion("infusion-1", [*entries[:2], done, entries[3]]).boluses.look_of("nadia")
    assert look is not None
    assert (look.ended_at, look.started_at) == (None, None)
    assert [look.in_force_at(done.at + seconds * SECOND) for seconds in (-1, 0, 1)] == ["1", "2", "2"]
    # By a clock that was put back since.
    assert look.in_force_at(look.at - MINUTE) == "1"


def test_after_a_start_it_is_told_for_a_day() -> None:
    day = timedelta(hours=24)
    for events, told_later in (((), True), ((STARTED,), False)):
        given = boluses(looked(), *events)
        at = BEGAN + 2 * MINUTE
        assert given.look_to_tell("nadia", at + day) is given.look_of("nadia") is not None
        assert (given.look_to_tell("nadia", at + day + SECOND) is not None) is told_later
        assert given.look_to_tell("tomas", at) is None


def test_what_another_gave_ends_a_look() -> None:
    look = by_tomas(looked(), replace(GIVEN, look="9"), whose=3).look_of("nadia")
    assert look is not None
    assert (look.ended_at, look.outside_at) == (BEGAN + 3 * MINUTE, None)


def test_after_a_stop_it_counts_only_for_what_was_given_before_it() -> None:
    for stops in ((STOPPED,), (STOPPED, STOPPED)):
        look = look_after(looked(), *stops)
        assert look is not None
        assert look.ended_at == BEGAN + 3 * MINUTE
        assert not look.is_fresh("nadia", look.at, timedelta(minutes=15))
        assert look.given_at("", look.at + timedelta(hours=1), timedelta(minutes=15)) == look.ended_at
    assert look_after(STOPPED) is None


def test_it_was_given_when_it_is_said_and_not_before_the_look_nor_when_that_had_run_out() -> None:
    look = look_after(looked())
    assert look is not None
    valid, now = timedelta(minutes=15), look.at + timedelta(hours=1)
    for text, minutes in (("", 15), ("about two", 15), (1, 1), (14, 14), (16, 15), (-1, 0)):
        at = text if isinstance(text, str) else (look.at + text * MINUTE).isoformat()
        assert look.given_at(at, now, valid) == look.at + minutes * MINUTE, text
    assert look.given_at("", look.at + MINUTE, valid) == look.at + MINUTE
    at = (look.at + 2 * MINUTE).isoformat()
    (given,) = boluses(looked(), STOPPED, replace(GIVEN, stated_at=at)).given
    assert given.at == look.at + 2 * MINUTE


def test_it_counts_for_whoever_looked_and_only_for_a_while() -> None:
    look = look_after(looked())
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
