"""A pause of the line: one nurse's, and one nurse lets it run on within the site's time; later two look."""

from datetime import timedelta
from typing import Any

import pytest

from app.records import ward_events
from app.records.infusion import InfusionState
from app.records.kept import Entry
from app.records.ranking import Standing
from app.records.state import Phase
from app.site.loading import account_of, load_infusion
from app.workflow import changing, pausing, stopping
from app.workflow.listing import unit_list
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift, ReadsBlind
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.script import Read
from tests.story.ward import Ward
from tests.support.together import together

LIMIT = timedelta(minutes=30)


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def state_of(ward: Ward) -> InfusionState:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def pauses(ward: Ward, who: Somebody = NADIA, *, why: str = "kink") -> object:
    return ward.pausing_line(who, why=why)


def resumes(ward: Ward, who: Somebody = NADIA, *, look: pausing.Look | None = None, **changed: Any) -> object:  # noqa: ANN401  # fields of a look
    return ward.resuming_line(who, look or ward.a_look(**changed))


_OF_LINES = (ward_events.LinePaused, ward_events.LineLooked, ward_events.LineResumed)


def of_the_line(ward: Ward) -> list[Entry]:
    """What stands in the log of the line."""
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return [each for each in reader.course(infusion) if isinstance(each.event, _OF_LINES)]


def told(ward: Ward) -> list[str]:
    return [each.event.kind for each in of_the_line(ward)]


def listed(ward: Ward) -> list[tuple[Standing, object]]:
    return [(each.standing, each.since) for each in unit_list(ward.site, ward.act(RUTH)).running]


# ---------------------------------------------------------------------------------------------------------
# One nurse, within the site's time


def test_one_nurse_pauses_and_one_lets_it_run_on(running: Ward) -> None:
    since = state_of(running).last_run
    assert pauses(running) == pausing.Paused()
    paused_at = running.now
    assert listed(running) == [(Standing.PAUSED, paused_at)]
    seen = see_check(running.site, running.act(RUTH), running.check)
    assert isinstance(seen, Seen)
    assert seen.progress == "the line is paused"
    # It is the same run, and what is in force is what it was.
    assert (state_of(running).last_run, state_of(running).is_running) == (since, True)

    running.wait(LIMIT - timedelta(minutes=5))
    assert resumes(running, IMOGEN) == pausing.Resumed()
    assert state_of(running).pause is None
    assert told(running) == ["line-paused", "line-looked", "line-resumed"]
    assert [standing for standing, _ in listed(running)] == [Standing.RUNNING]


def test_the_trail_has_what_was_seen_and_by_whom(running: Ward) -> None:
    pauses(running, why="no reason that is offered")
    resumes(running, TOMAS, pressure="none")
    paused, looked, resumed = of_the_line(running)
    assert paused.event == ward_events.LinePaused(why="other")
    assert looked.event == ward_events.LineLooked(
        pause=str(paused.position),
        pressure="none",
        scale="site sedation scale 0 to 3",
        sedation="1",
        respiratory_rate="12 /min",
        within=True,
        same=True,
    )
    assert resumed.event == ward_events.LineResumed(pause=str(paused.position))
    assert [each.by for each in (paused, looked, resumed)] == [NADIA.id, TOMAS.id, TOMAS.id]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"pressure": ""}, "pressure"),
        ({"pressure": "forged"}, "pressure"),
        # The line was kinked: that there is no pressure in it cannot be.
        ({"pressure": "none"}, "pressure"),
        ({"sedation": ""}, "sedation"),
        ({"sedation": "9"}, "sedation"),
        ({"respiratory_rate": ""}, "respiratory_rate"),
        ({"respiratory_rate": "twelve /min"}, "respiratory_rate"),
        ({"same": None}, "same"),
    ],
)
def test_what_is_left_out_or_cannot_be_is_asked_for_and_nothing_is_written(
    running: Ward, changed: dict[str, Any], field: str
) -> None:
    pauses(running)
    said = resumes(running, **changed)

    assert isinstance(said, pausing.Unanswered)
    assert set(said.faults) == {field}
    assert told(running) == ["line-paused"]


# ---------------------------------------------------------------------------------------------------------
# It becomes a stop


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"sedation": "2"}, "sedation-or-breathing"),
        ({"respiratory_rate": "9.9 /min"}, "sedation-or-breathing"),
        ({"same": False}, "wrong-setting-or-drug"),
        # A stop waits for no other answer.
        ({"sedation": "3", "respiratory_rate": "", "pressure": "", "same": None}, "sedation-or-breathing"),
        ({"sedation": "", "respiratory_rate": "4 /min", "pressure": ""}, "sedation-or-breathing"),
        ({"same": False, "sedation": "", "respiratory_rate": "x /min"}, "wrong-setting-or-drug"),
    ],
)
def test_outside_the_protocol_or_otherwise_set_it_is_a_stop(
    running: Ward, changed: dict[str, Any], why: str
) -> None:
    pauses(running)
    pause = state_of(running).pause
    assert pause is not None
    said = resumes(running, **changed)

    assert isinstance(said, pausing.BecameStop)
    assert bool(said.outside) is (why == "sedation-or-breathing")
    assert (state_of(running).is_stopped, state_of(running).pause) == (True, None)
    (note,) = running.state().stop_notes
    assert (note.note, note.why, note.by) == (said.note, why, NADIA.id)
    assert note.stopped_at == pause.at.isoformat(timespec="minutes")
    # Its author may still say that it was another bed; then the line is paused as before.
    assert stopping.say_misplaced(running.site, running.act(NADIA), said.note) == stopping.SaidMisplaced()
    assert state_of(running).pause == pause


def test_it_counts_for_the_check_that_is_open_there_as_any_stop_does(running: Ward) -> None:
    bed = running.state().check.bed
    started = running.check
    pauses(running)
    look = running.a_look(sedation="3")
    running.opens(TOMAS, bed=bed)
    fresh = running.check
    running.check = started
    assert isinstance(resumes(running, look=look), pausing.BecameStop)
    assert [each.why for each in running.state(fresh).stop_notes] == ["sedation-or-breathing"]


def test_a_stop_note_while_it_is_paused_makes_it_stopped(running: Ward) -> None:
    pauses(running)
    running.stops(RUTH)

    assert [standing for standing, _ in listed(running)] == [Standing.STOPPED]
    assert resumes(running) == pausing.NotRunning()
    assert pauses(running) == pausing.PausedWhereStopped()


def test_what_is_written_while_a_stop_stands_counts_once_that_was_another_bed(running: Ward) -> None:
    stop = running.noting_a_stop(RUTH)
    assert isinstance(stop, stopping.StopNoted)
    infusion = infusion_of(running)
    assert pauses(running) == pausing.PausedWhereStopped()
    paused_at = running.now
    lowered = changing.note_lowered(running.site, running.act(NADIA), infusion, why="sedation")
    assert isinstance(lowered, changing.Lowered)
    assert not state_of(running).is_running

    running.saying_misplaced(RUTH, stop.note)
    state = state_of(running)
    assert state.pause is not None
    assert (state.pause.at, state.pause.by) == (paused_at, NADIA.id)
    assert state.lowered_at is not None
    assert listed(running) == [(Standing.PAUSED, paused_at)]
    with running.site.store.read() as reader:
        assert account_of(reader, infusion).entries[-1].data == {"kind": "paused"}


# ---------------------------------------------------------------------------------------------------------
# Later than the site's time


def test_later_two_look_and_it_is_no_new_check(running: Ward) -> None:
    pauses(running)
    running.wait(LIMIT)
    assert resumes(running) == pausing.SecondLookWanted()
    # The same nurse twice is not two.
    assert resumes(running) == pausing.SecondLookWanted()
    assert state_of(running).pause is not None

    assert resumes(running, TOMAS) == pausing.Resumed()
    assert told(running) == ["line-paused", *["line-looked"] * 3, "line-resumed"]
    assert running.phase is Phase.STARTED


def test_a_look_counts_for_the_sites_time_alone(running: Ward) -> None:
    pauses(running)
    running.wait(LIMIT)
    assert resumes(running) == pausing.SecondLookWanted()
    running.wait(timedelta(minutes=16))
    assert resumes(running, TOMAS) == pausing.SecondLookWanted()
    assert resumes(running) == pausing.Resumed()


def test_what_the_second_sees_is_a_stop_all_the_same(running: Ward) -> None:
    pauses(running)
    running.wait(LIMIT)
    resumes(running)
    assert isinstance(resumes(running, TOMAS, same=False), pausing.BecameStop)
    assert not state_of(running).is_running


def test_by_a_clock_that_was_put_back_two_look(running: Ward) -> None:
    pauses(running)
    running.wait(-timedelta(minutes=2))

    assert resumes(running) == pausing.SecondLookWanted()
    assert resumes(running, TOMAS) == pausing.Resumed()


# ---------------------------------------------------------------------------------------------------------
# Refused


def test_two_presses_and_two_people_at_once_are_one(running: Ward) -> None:
    acts = [running.act(who) for who in (NADIA, TOMAS)]
    infusion = infusion_of(running)
    said = together(
        *(lambda act=act: pausing.pause_line(running.site, act, infusion, why="walk") for act in acts)
    )
    assert sorted(type(each).__name__ for each in said) == ["AlreadyPaused", "Paused"]

    look = running.a_look()
    acts = [running.act(who) for who in (NADIA, TOMAS)]
    said = together(
        *(lambda act=act: pausing.resume_line(running.site, act, infusion, look=look) for act in acts)
    )
    assert sorted(type(each).__name__ for each in said) == ["NotPaused", "Resumed"]
    assert told(running).count("line-resumed") == 1
    # What was looked at before another pause is not a look at it.
    pauses(running)
    assert resumes(running, look=look) == pausing.NotPaused()


def test_what_does_not_run_is_not_paused(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    assert pauses(ward) == pausing.NotRunning()
    assert resumes(ward) == pausing.NotRunning()
    assert changing.note_lowered(ward.site, ward.act(NADIA), infusion_of(ward), why="") == changing.HasEnded()
    ward.at_stage(Phase.STARTED).stops(why="end-of-therapy")
    assert resumes(ward) == pausing.NotRunning()
    ward.at_stage(Phase.STARTED)
    assert resumes(ward) == pausing.NotPaused()


@pytest.mark.parametrize("who", [NADIA, RUTH, INES, PETRA], ids=lambda each: str(each.id))
def test_whoever_may_stop_may_pause_and_lower_on_whatever_unit_the_shift_is(
    running: Ward, who: Somebody
) -> None:
    assert isinstance(running.noting_a_stop(who), stopping.StopNoted)
    running.at_stage(Phase.STARTED)
    lowered = changing.note_lowered(running.site, running.act(who), infusion_of(running), why="sedation")
    assert isinstance(lowered, changing.Lowered)
    assert pauses(running, who) == pausing.Paused()


def test_who_may(running: Ward) -> None:
    act = running.act(NADIA)
    assert pausing.pause_line(running.site, act, "no-such", why="") == NotFound()
    assert changing.note_lowered(running.site, act, "no-such", why="") == NotFound()
    for who in (QUILL, ADELE):
        assert pauses(running, who) == NotAllowed()
        infusion = infusion_of(running)
        assert changing.note_lowered(running.site, running.act(who), infusion, why="") == NotAllowed()
    pauses(running)
    assert resumes(running, PETRA) == NotAllowed()
    assert resumes(running, INES) == NotOnShift()


def test_whoever_reads_alone_there_leaves_it_to_a_colleague(running: Ward) -> None:
    pauses(running)
    look = running.a_look()
    started = running.check
    running.re_checks()
    running.check = started

    assert resumes(running, look=look) == ReadsBlind()
    assert resumes(running, TOMAS, look=look) == ReadsBlind()
    assert resumes(running, IMOGEN, look=look) == pausing.Resumed()


def test_what_a_check_found_comes_first(running: Ward) -> None:
    pauses(running)
    look = running.a_look()
    started = running.check
    otherwise = running.what_is_read(Read.SET_OTHERWISE)
    running.re_checks().both_read(*otherwise).compares()
    running.check = started
    assert resumes(running, IMOGEN, look=look) == pausing.CheckComesFirst()


def test_lowered_for_safety_nobody_is_asked_for_the_higher_dose_that_is_in_force(one_ward: Ward) -> None:
    """To say that the device shows it would be to raise the dose again, and that it does not a stop."""
    one_ward.at_stage(Phase.STARTED)
    infusion, started = infusion_of(one_ward), one_ward.check
    changing.note_lowered(one_ward.site, one_ward.act(NADIA), infusion, why="sedation")
    pauses(one_ward)
    for same in (False, True):
        assert resumes(one_ward, TOMAS, same=same) == pausing.CheckComesFirst()

    # Once two have read order and device as they are now, that is in force.
    one_ward.re_checks().both_read().compares().both_sign()
    one_ward.check = started
    assert resumes(one_ward) == pausing.Resumed()


def test_without_anything_in_force_two_check_first(ward: Ward) -> None:
    ward.starts_without_check(bed="9")
    with ward.site.store.read() as reader:
        (infusion,) = reader.infusions_at("ward-4-east", "9")
    assert pausing.pause_line(ward.site, ward.act(NADIA), infusion.id, why="walk") == pausing.Paused()
    (unchecked,) = unit_list(ward.site, ward.act(RUTH)).unchecked
    assert unchecked.paused_at is not None
    look = pausing.Look(
        pause=0, in_force="", pressure="let-out", sedation="0", respiratory_rate="14 /min", same=True
    )
    said = pausing.resume_line(ward.site, ward.act(NADIA), infusion.id, look=look)
    assert said == pausing.NothingInForce()


def test_what_has_come_into_force_since_is_looked_at_anew(running: Ward) -> None:
    pauses(running)
    look = running.a_look()
    started = running.check
    running.re_checks().both_read().compares().both_sign()
    running.check = started

    assert resumes(running, look=look) == pausing.ShownIsPast()
    assert resumes(running) == pausing.Resumed()
