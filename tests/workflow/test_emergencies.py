"""What is done for a patient in a hurry: never refused, saved by one; what it leaves behind is kept to."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from app.records.course import Bar
from app.records.emergencies import NOTHING_STANDS
from app.records.emergency_events import EvidenceKept, ToldAfterwards
from app.records.infusion import InfusionState
from app.records.kept import Entry
from app.records.kinds import SETTINGS_CHANGE
from app.records.ranking import Standing
from app.records.restarting import HeldBack, Why
from app.records.state import Phase
from app.site.loading import account_of, load_infusion
from app.workflow import emergencies, opening, pausing, starting, stopping
from app.workflow.emergencies_seen import EmergenciesSeen, see_emergencies
from app.workflow.listing import UnitList, unit_list
from app.workflow.refusals import KeptAsEvidence, NotAllowed, NotFound
from app.workflow.signing import Signed
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.script import WAYS
from tests.story.ward import Ward
from tests.workflow.test_taking_back import replaced

Act = Callable[..., Any]

# Each of them, as one tap does it.
ONE_TAP: dict[str, Callable[[Ward, Somebody], Any]] = {
    "reversal": lambda ward, who: does(ward, emergencies.note_reversal, who),
    "itch": lambda ward, who: does(ward, emergencies.note_itch, who),
    "overdose": lambda ward, who: does(ward, emergencies.note_harm, who, what="overdose"),
    "death": lambda ward, who: does(ward, emergencies.note_harm, who, what="death"),
    "away": lambda ward, who: does(ward, emergencies.note_away, who, what="theatre"),
    "key": lambda ward, who: does(ward, emergencies.note_key, who, what="key"),
    "dead": lambda ward, who: does(ward, emergencies.note_dead_device, who),
}


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    return one_ward.at_stage(Phase.STARTED)


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def does(ward: Ward, act: Act, who: Somebody = NADIA, **given: Any) -> Any:  # noqa: ANN401  # what came of it
    return act(ward.site, ward.act(who), infusion_of(ward), **given)


def state_of(ward: Ward) -> InfusionState:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def told(ward: Ward) -> list[Entry]:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return list(reader.course(infusion))


def kinds(ward: Ward) -> list[str]:
    return [each.event.kind for each in told(ward)]


def seen(ward: Ward, who: Somebody = RUTH) -> EmergenciesSeen:
    found = see_emergencies(ward.site, ward.act(who), infusion_of(ward))
    assert isinstance(found, EmergenciesSeen)
    return found


def lists(ward: Ward, who: Somebody = RUTH) -> UnitList:
    return unit_list(ward.site, ward.act(who))


# ---------------------------------------------------------------------------------------------------------
# One tap, by anybody, at any time, and twice


@pytest.mark.parametrize("what", ONE_TAP)
def test_one_tap_by_one_person_saves_it_and_twice_does_no_harm(running: Ward, what: str) -> None:
    assert isinstance(ONE_TAP[what](running, NADIA), emergencies.Noted)
    first = state_of(running)
    assert isinstance(ONE_TAP[what](running, IMOGEN), emergencies.Noted)
    again = state_of(running)

    assert (again.is_running, again.waits, again.is_held_back) == (
        first.is_running,
        first.waits,
        first.is_held_back,
    )
    assert again.emergencies.evidence == first.emergencies.evidence
    assert again.emergencies.absence == first.emergencies.absence
    assert again.emergencies.key == first.emergencies.key


@pytest.mark.parametrize("phase", WAYS)
def test_it_is_refused_in_no_phase_of_a_check(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)
    for tap in ONE_TAP.values():
        assert isinstance(tap(one_ward, RUTH), emergencies.Noted)


def test_whoever_may_know_of_it_writes_it_down_and_nobody_else(running: Ward) -> None:
    for who in (NADIA, RUTH, PETRA, INES):
        assert isinstance(ONE_TAP["reversal"](running, who), emergencies.Noted)
    for who in (QUILL, ADELE):
        for tap in ONE_TAP.values():
            assert tap(running, who) == NotAllowed()
    act = running.act(NADIA)
    assert emergencies.note_reversal(running.site, act, "none") == NotFound()
    assert emergencies.note_dead_device(running.site, act, "none") == NotFound()
    assert emergencies.note_key(running.site, act, "none", what="key") == NotFound()
    assert emergencies.tell_afterwards(running.site, act, "none", position=1, told={}) == NotFound()
    assert emergencies.note_back(running.site, act, "none", opioids="no") == NotFound()


def test_what_no_button_offers_is_written_down_as_the_nearest(running: Ward) -> None:
    does(running, emergencies.note_harm, what="?")
    does(running, emergencies.note_away, what="?")
    does(running, emergencies.note_key, what="?")
    stands = state_of(running).emergencies
    assert stands.evidence is not None
    assert stands.absence is not None
    assert stands.key is not None
    assert (stands.evidence.what, stands.absence.went.what, stands.key.missing.what) == (
        "overdose",
        "other",
        "key",
    )


# ---------------------------------------------------------------------------------------------------------
# A reversal agent


def test_for_sedation_or_breathing_it_is_stopped_and_held(running: Ward) -> None:
    noted = ONE_TAP["reversal"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    state = state_of(running)
    assert state.is_stopped
    assert state.waits
    assert kinds(running)[-2:] == ["device-stopped", "reversal-given"]
    (line,) = lists(running).running
    assert (line.standing, line.since) == (Standing.HELD, told(running)[-1].at)
    # What both had signed of a check at that bed counts no longer, as after any stop.
    assert running.state().stop_notes[-1].why == "reversal-agent"


def test_what_is_being_set_up_beside_it_at_that_bed_is_held_too_and_nothing_else_is_of_it(
    running: Ward,
) -> None:
    """By the log what ran before was never stopped: it may well be the same patient."""
    before, bed = running.check, running.state().check.bed
    beside = running.opens(IMOGEN, bed=bed).check
    running.check = before
    ONE_TAP["overdose"](running, NADIA)
    ONE_TAP["away"](running, NADIA)
    running.check = beside
    assert [each.why for each in running.state().stop_notes] == ["overdose-or-death", "away"]
    assert state_of(running).emergencies == NOTHING_STANDS
    running.check = before
    ONE_TAP["reversal"](running, NADIA)
    running.check = beside
    assert state_of(running).emergencies.hold is not None


@pytest.mark.parametrize("what", ["reversal", "overdose", "death", "away"])
def test_of_one_that_stood_still_before_it_leaves_whoever_came_to_the_bed_since_alone(
    running: Ward, what: str
) -> None:
    before, bed = running.check, running.state().check.bed
    running.stops(RUTH, why="end-of-therapy")
    after = running.opens(IMOGEN, bed=bed).check
    running.check = before
    noted = ONE_TAP[what](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    assert state_of(running).emergencies != NOTHING_STANDS
    running.check = after
    assert running.state().stop_notes == ()
    assert state_of(running).emergencies == NOTHING_STANDS
    # A plain stop is of the bed: whoever saw the device at it stopped that, whichever page was before them.
    running.check = before
    running.stops(RUTH, why="line-or-site")
    running.check = after
    assert [each.why for each in running.state().stop_notes] == ["line-or-site"]


def test_for_itch_nothing_is_held(running: Ward) -> None:
    ONE_TAP["itch"](running, NADIA)

    assert state_of(running).is_running
    assert not state_of(running).waits
    assert [each.standing for each in lists(running).running] == [Standing.RUNNING]


def test_the_reason_of_a_plain_stop_holds_it_too(running: Ward) -> None:
    running.stops(RUTH, why="reversal-agent")

    assert state_of(running).emergencies.hold is not None


def test_at_another_bed_it_was_not_held(running: Ward) -> None:
    noted = ONE_TAP["reversal"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    assert isinstance(running.saying_misplaced(NADIA, noted.note), stopping.SaidMisplaced)

    assert state_of(running).is_running
    assert state_of(running).emergencies.hold is None


def test_a_held_infusion_is_set_anew_by_nothing_before_a_prescriber_decides(running: Ward) -> None:
    bed = running.state().check.bed
    ONE_TAP["reversal"](running, NADIA)
    running.wait(timedelta(days=2))
    # Neither by a new check at the bed, however late, nor by letting the line run on.
    assert running.opening(IMOGEN, bed=bed) == HeldBack(why=Why.DECISION)
    assert running.resuming_line(NADIA, running.a_look()) == pausing.NotRunning()
    assert running.re_checking(IMOGEN) == opening.Barred(bar=Bar.NOT_RUNNING, led_to="")
    assert running.opening_on(IMOGEN, SETTINGS_CHANGE) == HeldBack(why=Why.DECISION)

    assert does(running, emergencies.decide_restart, prescriber=" ") == emergencies.Unclear(
        faults={"prescriber": "Write who decided."}
    )
    assert isinstance(does(running, emergencies.decide_restart, prescriber="Dr Hale"), emergencies.Noted)
    before = infusion_of(running)
    assert running.opening(IMOGEN, bed=bed) == HeldBack(why=Why.OTHER_KIND, kind="settings-change")
    running.changes(SETTINGS_CHANGE)
    assert infusion_of(running) == before
    running.both_read().compares().confirms_all().both_sign().both_look().starts()
    assert state_of(running).is_running
    assert not state_of(running).waits


def test_what_had_to_start_all_the_same_is_held_until_a_prescriber_decides_and_two_set_it_anew(
    running: Ward,
) -> None:
    before, bed = infusion_of(running), running.state().check.bed
    ONE_TAP["reversal"](running, NADIA)
    running.starts_without_check(bed=bed)
    (line,) = lists(running).unchecked
    assert (line.infusion, line.left.runs) == (before, True)
    assert line.left.stands.hold is not None
    # The blind check that is due reads what runs; it decides nothing.
    running.re_checks().both_read().compares().both_sign()
    assert [each.standing for each in lists(running).running] == [Standing.HELD]
    assert running.opening_on(IMOGEN, SETTINGS_CHANGE) == HeldBack(why=Why.DECISION)
    does(running, emergencies.decide_restart, prescriber="Dr Hale")
    running.changes(SETTINGS_CHANGE)
    running.both_read().compares().confirms_all().both_sign().both_look().starts()
    assert infusion_of(running) == before
    assert [each.standing for each in lists(running).running] == [Standing.RUNNING]


def test_a_dose_while_the_next_check_is_taken_stops_that_too(running: Ward) -> None:
    """The decision was before it: each of the two steps that are left is refused in words."""
    ONE_TAP["reversal"](running, NADIA)
    does(running, emergencies.decide_restart, prescriber="Dr Hale")
    running.changes(SETTINGS_CHANGE).both_read().compares().confirms_all().signs(NADIA)
    ONE_TAP["reversal"](running, IMOGEN)

    assert not isinstance(running.signing(TOMAS), Signed)
    running.confirms_all().signs(NADIA)
    assert running.signing(TOMAS) == HeldBack(why=Why.DECISION)
    does(running, emergencies.decide_restart, prescriber="Dr Hale")
    running.signs(TOMAS)
    assert running.phase is Phase.CLEARED
    running.both_look()
    does(running, emergencies.note_reversal, IMOGEN)
    assert not isinstance(running.starting(NADIA), starting.StartNoted)
    assert not state_of(running).is_running


def test_whoever_gave_it_to_somebody_elsewhere_can_say_so_and_the_next_patient_needs_its_end(
    running: Ward,
) -> None:
    bed = running.state().check.bed
    before = infusion_of(running)
    ONE_TAP["reversal"](running, NADIA)
    running.stops(RUTH, why="end-of-therapy")
    running.opens(IMOGEN, bed=bed)

    assert infusion_of(running) != before


def test_details_come_afterwards_and_each_may_be_left_out(running: Ward) -> None:
    noted = ONE_TAP["reversal"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    said = {"dose": " 0.1 mg ", "route": "", "response": "wakes", "holder": "no answer of this"}
    written = does(running, emergencies.tell_afterwards, TOMAS, position=noted.position, told=said)
    assert isinstance(written, emergencies.Noted)
    event = told(running)[-1].event
    assert event == ToldAfterwards(of=str(noted.position), told=(("dose", "0.1 mg"), ("response", "wakes")))
    does(running, emergencies.tell_afterwards, position=noted.position, told={"dose": "0.2 mg"})
    happened = seen(running).find(noted.position)
    assert happened is not None
    assert (happened.by, dict(happened.told)) == ("Nadia Ferrow", {"dose": "0.2 mg", "response": "wakes"})

    nothing = does(running, emergencies.tell_afterwards, position=noted.position, told={"dose": " "})
    assert nothing == emergencies.NothingStands()
    for position in (1, 999_999):
        none = does(running, emergencies.tell_afterwards, position=position, told={"dose": "x"})
        assert none == emergencies.NothingStands()


# ---------------------------------------------------------------------------------------------------------
# Suspected overdose or death


SEALED = emergencies.Sealed(
    seal=" 7701 ", holder="Ruth", place="safe 2", read={"left": "26 mL", "total_amount": "0.3 mg"}
)


def test_what_is_left_is_kept_until_the_investigator_gives_it_free(running: Ward) -> None:
    bed = running.state().check.bed
    ONE_TAP["overdose"](running, NADIA)
    kept = does(running, emergencies.keep_evidence, sealed=SEALED)
    assert isinstance(kept, emergencies.Noted)
    event = told(running)[-1].event
    assert isinstance(event, EvidenceKept)
    assert (event.seal, event.left, event.total_amount, event.presses) == ("7701", "26 mL", "0.3 mg", "")
    assert [each.infusion for each in lists(running).told] == [infusion_of(running)]
    # The investigator is on no unit, and is told of each.
    assert [each.infusion for each in lists(running, QUILL).told] == [infusion_of(running)]
    assert running.opening(IMOGEN, bed=bed) == HeldBack(why=Why.EVIDENCE)
    # The end is never refused, and frees the bed for another patient; what is kept stays kept.
    running.stops(RUTH, why="end-of-therapy")
    assert state_of(running).emergencies.evidence is not None

    for who in (NADIA, RUTH, PETRA, ADELE):
        assert does(running, emergencies.release_evidence, who) == NotAllowed()
    assert isinstance(does(running, emergencies.release_evidence, QUILL), emergencies.Noted)
    assert does(running, emergencies.release_evidence, QUILL) == emergencies.NothingStands()
    assert lists(running).told == ()
    assert does(running, emergencies.keep_evidence, sealed=SEALED) == emergencies.NothingStands()


def test_what_is_written_again_is_added_and_the_account_has_all_of_it_once(running: Ward) -> None:
    """By another, later, a part at a time, a part put right; and nothing is mandatory."""
    ONE_TAP["death"](running, NADIA)
    for who, sealed in (
        (NADIA, emergencies.Sealed()),
        (TOMAS, SEALED),
        (RUTH, emergencies.Sealed(read={"total_amount": "0.4 mg", "total_volume": "none", "doses": "2"})),
    ):
        assert isinstance(does(running, emergencies.keep_evidence, who, sealed=sealed), emergencies.Noted)
    kept = seen(running, TOMAS).kept
    assert kept is not None
    assert (kept.seal, kept.left, kept.total_amount, kept.doses) == ("7701", "26 mL", "0.4 mg", "2")
    infusion = infusion_of(running)
    with running.site.store.read() as reader:
        account = account_of(reader, infusion)
        assert [each.data for each in account.entries[-2:]] == [
            {"kind": "removed", "totals": {"amount": "0.4 mg", "doses": 2}, "left": "26 mL"},
            {"kind": "kept", "syringe": "1", "volume": "26 mL", "seal": "7701", "received": False},
        ]


def test_what_is_kept_is_neither_wasted_nor_returned_meanwhile(one_ward: Ward) -> None:
    due = replaced(one_ward)
    ONE_TAP["overdose"](due, RUTH)
    assert due.taking_back(NADIA) == KeptAsEvidence()
    assert due.state().taken_back == ()
    does(due, emergencies.release_evidence, QUILL)
    assert due.takes_back(NADIA).state().taken_back
