"""A bolus given by staff: only as the order says, by one nurse, with a look before and at its peak."""

from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest

from app.judging.account import balanced
from app.judging.boluses import TooMuch, TooSoon
from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.state import Phase
from app.site.loading import account_of, load_infusion, rules_in_force
from app.workflow import answering, bolus_looks, boluses, emergencies
from app.workflow.bolus_observing import Observed
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift, ReadsBlind
from tests.factories.answers import answers, changed
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.workflow.test_end_of_pca import LEFT, OFF, READ

# HYDROmorphone: 0.4 mg at most every 10 min, and three of them in 4 h.
ORDERED = {
    "staff_bolus_dose": "0.4 mg",
    "staff_bolus_interval": "10 min",
    "staff_bolus_most": "1.2 mg",
    "staff_bolus_window": "4 h",
}
WELL = Observed(sedation="0", respiratory_rate="14 /min")
APART = {"counts_bolus": False, "counts_loading": True, "counts_prime": False}
# Of the drug library that comes with the program.
PEAK = timedelta(minutes=15)


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    """It runs under an order that lets staff give boluses."""
    read = answers(order=ORDERED)
    return one_ward.opens().joins().both_read(read).compares().confirms_all().both_sign().both_look().starts()


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def does(ward: Ward, act: Any, who: Somebody = NADIA, *given: object) -> Any:  # noqa: ANN401  # what came of it
    return act(ward.site, ward.act(who), infusion_of(ward), *given)


def gives(ward: Ward, who: Somebody = NADIA) -> object:
    looked = does(ward, boluses.look_before, who, WELL)
    return does(ward, boluses.give_bolus, who) if looked == boluses.LookedWell() else looked


def sees_peak(ward: Ward, who: Somebody = NADIA, observed: Observed = WELL) -> object:
    return does(ward, boluses.look_at_peak, who, observed)


def given_again(ward: Ward, times: int) -> None:
    """So often, each after the peak of the one before."""
    for _ in range(times):
        assert isinstance(gives(ward), boluses.Given)
        ward.wait(PEAK)
        assert sees_peak(ward) == boluses.LookedWell()


def told(ward: Ward) -> list[Any]:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return [
            each.event
            for each in reader.course(infusion)
            if isinstance(each.event, BolusLooked | StaffBolusGiven)
        ]


def test_one_nurse_looks_gives_and_looks_again_at_its_peak(running: Ward) -> None:
    assert gives(running) == boluses.Given(calls=False)
    seen = does(running, boluses.see_bolus)
    assert isinstance(seen, boluses.BolusSeen)
    assert seen.last is not None
    assert (seen.peak_at, seen.drug) == (seen.last.at + PEAK, "HYDROmorphone")
    # Before the peak it is no look at the peak.
    assert sees_peak(running) == boluses.NotYet(until=seen.last.at + PEAK)
    running.wait(PEAK)
    assert sees_peak(running, IMOGEN) == boluses.LookedWell()
    before, given, after = told(running)
    assert (before.bolus, before.scale, before.sedation) == ("", "site sedation scale 0 to 3", "0")
    assert given.in_force == running.check
    assert (after.bolus, after.within) == (str(seen.last.position), True)
    assert sees_peak(running) == boluses.NotRunning()


def test_no_entry_says_how_much(running: Ward) -> None:
    gives(running)
    assert "0.4" not in repr(told(running))


def test_it_is_refused_where_the_order_says_none(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    assert gives(one_ward) == boluses.NotOrdered()


def test_by_the_order_too_soon_and_too_much_and_pressed_twice_it_is_one(running: Ward) -> None:
    gives(running)
    again = does(running, boluses.give_bolus)
    assert isinstance(again, TooSoon)
    assert isinstance(gives(running), TooSoon)
    running.wait(PEAK)
    assert gives(running) == boluses.PeakNotSeen()
    sees_peak(running)
    given_again(running, 2)
    refused = gives(running)
    assert isinstance(refused, TooMuch)
    first = load_state(running).boluses.given[0]
    assert refused.until == first.at + timedelta(hours=4)
    running.wait(timedelta(hours=4))
    assert isinstance(gives(running), boluses.Given)


def load_state(ward: Ward) -> Any:  # noqa: ANN401  # the state of its infusion
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def test_the_sites_count_in_an_hour_calls_the_pain_service(running: Ward) -> None:
    given_again(running, 1)
    assert gives(running) == boluses.Given(calls=True)
    with running.site.store.read() as reader:
        assert rules_in_force(reader, running.now).policy.staff_boluses_call == 2


@pytest.mark.parametrize(
    "observed",
    [
        Observed(sedation="2", respiratory_rate="14 /min"),
        Observed(sedation="0", respiratory_rate="9 /min"),
        # What is outside waits for no other answer.
        Observed(sedation="3", respiratory_rate=""),
        Observed(sedation="", respiratory_rate="4 /min"),
    ],
)
def test_outside_the_protocol_none_is_given_and_what_was_seen_stands(
    running: Ward, observed: Observed
) -> None:
    said = does(running, boluses.look_before, NADIA, observed)
    assert isinstance(said, boluses.Outside)
    assert said.says[0] == "Rouse the patient and stay."
    assert [each.within for each in told(running)] == [False]
    assert does(running, boluses.give_bolus) == boluses.LookFirst()
    # Also before its peak, and it is written down with what it did.
    gives(running)
    assert isinstance(sees_peak(running, NADIA, observed), boluses.Outside)


@pytest.mark.parametrize(
    ("observed", "fields"),
    [
        (Observed(sedation="", respiratory_rate=""), {"sedation", "respiratory_rate"}),
        (Observed(sedation="9", respiratory_rate="14 /min"), {"sedation"}),
        (Observed(sedation="0", respiratory_rate="many"), {"respiratory_rate"}),
    ],
)
def test_what_is_left_out_is_asked_for(running: Ward, observed: Observed, fields: set[str]) -> None:
    said = does(running, boluses.look_before, NADIA, observed)
    assert isinstance(said, boluses.Unanswered)
    assert set(said.faults) == fields
    assert told(running) == []


def test_a_look_counts_for_whoever_looked_and_for_a_while(running: Ward) -> None:
    does(running, boluses.look_before, NADIA, WELL)
    assert does(running, boluses.give_bolus, TOMAS) == boluses.LookFirst()
    # What she gave after it is written down all the same, and once.
    running.wait(timedelta(minutes=20))
    looked, seen = told(running)[-1], does(running, boluses.see_bolus)
    assert (seen.looked, seen.may_have_given is not None, looked.within) == (False, True, True)
    assert does(running, boluses.give_bolus, NADIA) == boluses.Given(calls=False)
    assert load_state(running).boluses.given[-1].at == seen.may_have_given + timedelta(minutes=15)
    assert isinstance(does(running, boluses.give_bolus, NADIA), TooSoon)


def test_what_stands_or_is_paused_or_held_is_given_none(running: Ward) -> None:
    running.pausing_line(NADIA)
    assert gives(running) == boluses.NotRunning()
    does(running, emergencies.note_reversal)
    assert gives(running) == boluses.NotRunning()


@pytest.mark.parametrize("what", ["stopped", "paused", "overdose"])
def test_what_was_given_after_a_look_is_written_down_whatever_came_since(running: Ward, what: str) -> None:
    """The patient was too sedated, and a colleague stopped it: 0.4 mg of the totals are the bolus."""
    running.wait(timedelta(minutes=30))
    does(running, boluses.look_before, NADIA, WELL)
    given_at = (running.now + timedelta(minutes=1)).isoformat()
    running.wait(timedelta(minutes=3))
    if what == "stopped":
        running.stops(IMOGEN, why="sedation-or-breathing")
    elif what == "paused":
        running.pausing_line(IMOGEN)
    else:
        emergencies.note_harm(running.site, running.act(IMOGEN), infusion_of(running), what=what)
        shows = {"total_amount": "0.4 mg", "presses": "0", "doses": "0", "left": "25.7 mL"}
        sealed = emergencies.Sealed(seal="7701", holder="Ruth", read=shows)
        assert isinstance(does(running, emergencies.keep_evidence, IMOGEN, sealed), emergencies.Noted)
    running.wait(timedelta(minutes=20))
    assert does(running, boluses.look_before, NADIA, WELL) == boluses.NotRunning()
    assert does(running, boluses.give_bolus, TOMAS) == boluses.NotRunning()
    assert gives_late(running, given_at) == boluses.Given(calls=False)
    assert gives_late(running, given_at) == boluses.NotRunning()

    infusion = infusion_of(running)
    with running.site.store.read() as reader:
        account = account_of(reader, infusion)
        # By a device whose totals leave it out it is counted apart.
        (syringe,) = reader.recounted([infusion], **APART)[infusion]
    (folded,) = balanced(account.written(), {"totals_count_bolus": False})["syringes"]
    given = folded["volume"]["delivered_by_device"]["exact"]
    assert given == ("4" if what == "overdose" else "0")
    assert syringe.delivered_by_device == Fraction(given)
    entries = account.entries
    assert [each.data["kind"] for each in entries[5:7]] == ["bolus", "paused"]
    assert entries[5].at.isoformat() == given_at


def gives_late(ward: Ward, given_at: str, who: Somebody = NADIA) -> object:
    return boluses.give_bolus(ward.site, ward.act(who), infusion_of(ward), given_at=given_at)


def test_it_is_not_said_to_have_been_given_before_the_look(running: Ward) -> None:
    gives(running)
    running.wait(PEAK)
    sees_peak(running)
    does(running, boluses.look_before, NADIA, WELL)
    running.stops(IMOGEN)
    first = load_state(running).boluses.given[0].at
    early = gives_late(running, (first + timedelta(minutes=9)).isoformat())
    assert early == boluses.Given(calls=True)
    assert load_state(running).boluses.given[-1].at >= first + PEAK


OUTSIDE = Observed(sedation="3", respiratory_rate="6 /min")


@pytest.mark.parametrize("sees", [NADIA, IMOGEN])
def test_what_was_given_as_allowed_is_written_down_after_a_look_outside_the_protocol(
    running: Ward, sees: Somebody
) -> None:
    """Given in the minute after the look; the patient was too sedated before anybody had written it down."""
    does(running, boluses.look_before, NADIA, WELL)
    given_at = (running.now + timedelta(minutes=1)).isoformat()
    running.wait(timedelta(minutes=4))
    assert isinstance(does(running, boluses.look_before, sees, OUTSIDE), boluses.Outside)
    (look,) = load_state(running).boluses.looks
    outside_at = look.outside_at
    running.wait(timedelta(minutes=2))

    seen = does(running, boluses.see_bolus)
    assert (seen.looked, seen.may_have_given, seen.outside_at) == (False, look.at, outside_at)
    # After that nothing allowed it.
    late = (outside_at + timedelta(minutes=1)).isoformat()
    assert gives_late(running, late) == bolus_looks.OutsideSince(at=outside_at)
    assert does(running, boluses.give_bolus, TOMAS) == boluses.LookFirst()
    assert load_state(running).boluses.given == ()
    assert gives_late(running, given_at) == boluses.Given(calls=False)
    assert not isinstance(gives_late(running, given_at), boluses.Given)
    (given,) = load_state(running).boluses.given
    assert given.at.isoformat() == given_at


def test_a_colleagues_look_takes_nobodys_own_away_and_none_outlasts_the_bolus_of_another(
    running: Ward,
) -> None:
    does(running, boluses.look_before, NADIA, WELL)
    running.wait(timedelta(minutes=1))
    does(running, boluses.look_before, TOMAS, WELL)
    assert does(running, boluses.give_bolus, NADIA) == boluses.Given(calls=False)
    assert not does(running, boluses.see_bolus, TOMAS).looked
    assert isinstance(does(running, boluses.give_bolus, TOMAS), TooSoon)


def test_to_whoever_reads_blind_there_it_is_not_told_what_others_saw(running: Ward) -> None:
    does(running, boluses.look_before, NADIA, WELL)
    running.wait(timedelta(minutes=1))
    does(running, boluses.look_before, IMOGEN, OUTSIDE)
    running.wait(timedelta(minutes=1))
    running.re_checks()
    assert does(running, boluses.see_bolus).outside_at is None
    assert gives_late(running, running.now.isoformat()) == ReadsBlind()
    assert does(running, boluses.give_bolus, NADIA) == boluses.Given(calls=False)


def test_whoever_covers_a_break_gives_none(running: Ward) -> None:
    state = load_state(running)
    who = next(each for each in (NADIA, TOMAS) if each.id == state.responsible)
    assert isinstance(
        answering.cover_break(running.site, running.act(who), covers=IMOGEN.id), answering.Covered
    )
    assert gives(running, IMOGEN) == boluses.CoversOnly()
    assert isinstance(gives(running, who), boluses.Given)


def test_without_a_peak_in_the_library_none_is_given(running: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(boluses, "LIBRARY", "packs")
    assert gives(running) == boluses.NoPeakKnown()


def test_whoever_reads_blind_there_gives_none_and_is_shown_nothing(running: Ward) -> None:
    running.re_checks()
    for who in (NADIA, TOMAS):
        seen = does(running, boluses.see_bolus, who)
        assert isinstance(seen, boluses.BolusSeen)
        assert (seen.refused, seen.order, seen.drug, seen.peak_at) == (ReadsBlind(), None, "", None)
        assert gives(running, who) == ReadsBlind()
        assert does(running, boluses.give_bolus, who) == ReadsBlind()
    assert gives(running, IMOGEN) == boluses.Given(calls=False)


def test_whoever_gave_one_and_joined_a_check_then_writes_it_down_and_is_told_nothing_of_others(
    running: Ward,
) -> None:
    does(running, boluses.look_before, NADIA, WELL)
    running.re_checks()
    seen = does(running, boluses.see_bolus)
    assert (seen.refused, seen.order, seen.may_have_given is None) == (ReadsBlind(), None, False)
    assert does(running, boluses.give_bolus, NADIA) == boluses.Given(calls=False)
    assert does(running, boluses.give_bolus, NADIA) == ReadsBlind()


def test_once_the_infusion_is_closed_none_is_written_down(one_ward: Ward) -> None:
    ward = one_ward
    read = changed(READ, order=ORDERED)
    ward.opens().joins().both_read(read).compares().confirms_all().both_sign().both_look().starts()
    ward.wait(timedelta(hours=26))
    does(ward, boluses.look_before, NADIA, WELL)
    ward.stops(why="end-of-therapy").ends().both_read(ward.of_its_patient(read)).compares()
    ward.does(NADIA, OFF).verifies(TOMAS, OFF).taking_back(NADIA, RUTH, given=LEFT)
    ward.confirms_all().both_sign()
    assert does(ward, boluses.give_bolus, NADIA) == boluses.NotRunning()


def test_whose_it_is_not(running: Ward) -> None:
    assert gives(running, INES) == NotOnShift()
    for who in (PETRA, ADELE):
        assert gives(running, who) == NotAllowed()
        assert does(running, boluses.see_bolus, who) == NotAllowed()
        assert sees_peak(running, who) == NotAllowed()
    assert boluses.give_bolus(running.site, running.act(NADIA), "none") == NotFound()
    assert isinstance(gives(running, RUTH), boluses.Given)
