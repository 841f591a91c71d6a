"""A transfer between units: by one tap another answers for it; until two have read it is at both beds."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.course import Bar
from app.records.due import DueThing, due_things
from app.records.emergencies import NOTHING_STANDS
from app.records.kinds import HANDOFF, TRANSFER
from app.records.ranking import Standing
from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.site.loading import account_of, load_infusion, rules_in_force
from app.site.observing import observe_next
from app.workflow import changing, emergencies, opening, pausing, reading, signing, stopping, transferring
from app.workflow.issuing import Issued, issue_record
from app.workflow.listing import unit_list
from app.workflow.refusals import NotFound, NotOnShift
from tests.factories.answers import answers, changed, of_patient
from tests.story.people import INES, NADIA, PETRA, QUILL, RALPH, RECOVERY, RUTH, WARD, Somebody
from tests.story.ward import Ward

TO, OTHER = "3", "4"


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def takes(
    ward: Ward,
    who: Somebody = INES,
    *,
    before: tuple[str, str] | None = None,
    bed: str = TO,
    unit: str = "",
    gives_up: str = "",
) -> object:
    check = ward.state().check
    return transferring.take_patient(
        ward.site,
        ward.act(who),
        before=before or (check.unit, check.bed),
        unit=unit or RECOVERY,
        bed=bed,
        gives_up=gives_up,
    )


@pytest.fixture
def taken(running: Ward) -> Ward:
    assert takes(running) == transferring.Taken(infusion=running.state().check.infusion)
    return running


def opens(ward: Ward, who: Somebody = NADIA, *, in_place: bool = False) -> object:
    infusion = ward.state().check.infusion
    return opening.open_on_infusion(ward.site, ward.act(who), TRANSFER, infusion, in_place=in_place)


def is_checked_by(ward: Ward, one: Somebody, other: Somebody, *, in_place: bool = False) -> Ward:
    opened = opens(ward, one, in_place=in_place)
    assert isinstance(opened, opening.Opened), opened
    ward.check = opened.check
    return ward.joins(other)


def both_read(ward: Ward, two: tuple[Somebody, Somebody], first: Answers, second: Answers) -> Ward:
    return ward.reads(two[0], first).reads(two[1], second).compares()


def is_signed_by(ward: Ward, one: Somebody, other: Somebody) -> Ward:
    """Both read the same, and sign."""
    return both_read(ward, (one, other), answers(), answers()).signs(one).signs(other)


def found_at(ward: Ward, unit: str, bed: str) -> list[str]:
    with ward.site.store.read() as reader:
        return [each.id for each in reader.alive_at(unit, bed)]


def listed(ward: Ward, who: Somebody) -> list[tuple[str, Standing]]:
    return [(each.bed, each.standing) for each in unit_list(ward.site, ward.act(who)).running]


def test_by_the_tap_the_receiving_nurse_answers_for_it_and_it_runs_on(running: Ward) -> None:
    before = running.loaded().infusion
    assert before.responsible == NADIA.id

    takes(running)

    now = running.loaded().infusion
    assert (now.responsible, now.is_running, now.in_force) == (INES.id, True, before.in_force)
    assert now.transfer is not None
    assert (now.transfer.by, now.transfer.sender) == (INES.id, NADIA.id)


def test_until_two_have_read_it_is_found_at_both_beds_then_at_the_new_one(taken: Ward) -> None:
    check, infusion = taken.state().check, taken.state().check.infusion
    assert found_at(taken, WARD, check.bed) == found_at(taken, RECOVERY, TO) == [infusion]
    assert listed(taken, RALPH) == [(TO, Standing.CHECK_DUE)]
    (away,) = unit_list(taken.site, taken.act(RUTH)).away
    assert (away.before, away.bed, away.sender) == (check.bed, TO, NADIA.printed_name)
    assert listed(taken, RUTH) == []

    is_signed_by(is_checked_by(taken, NADIA, INES), NADIA, INES)

    assert taken.phase is Phase.DONE
    assert (found_at(taken, WARD, check.bed), found_at(taken, RECOVERY, TO)) == ([], [infusion])
    assert listed(taken, RALPH) == [(TO, Standing.RUNNING)]
    assert unit_list(taken.site, taken.act(RUTH)).away == ()
    assert taken.loaded().infusion.responsible == INES.id


def test_the_check_is_due_in_the_sites_time_and_then_overdue(taken: Ward) -> None:
    policy = taken.loaded().policy
    (due,) = due_things(taken.loaded().infusion, policy, taken.now)
    assert (due.what, due.overdue) == (DueThing.TRANSFER, False)

    taken.wait(policy.transfer_check_due + timedelta(minutes=1))

    assert listed(taken, RALPH) == [(TO, Standing.OVERDUE)]
    (away,) = unit_list(taken.site, taken.act(RUTH)).away
    assert away.overdue


def test_the_sending_nurse_reads_what_changes_and_the_receiving_nurse_all_of_it(taken: Ward) -> None:
    is_checked_by(taken, NADIA, INES)

    def read_by(who: Somebody) -> list[Source]:
        desk = reading.open_desk(taken.site, taken.act(who), taken.check)
        assert isinstance(desk, reading.Desk)
        return [Source(name) for name, _ in desk.round.scope]

    assert read_by(NADIA) == [Source.TOTALS, Source.BEDSIDE]
    assert {Source.WRISTBAND, Source.LABEL, Source.DEVICE} < {*read_by(INES)}
    assert taken.state().check.unit == RECOVERY


def test_another_patient_s_wristband_is_a_stop_once_both_have_read(taken: Ward) -> None:
    another = of_patient("DM-50001", answers())
    both_read(is_checked_by(taken, NADIA, INES), (NADIA, INES), another, another)
    both_read(taken.reads_again(), (NADIA, INES), another, another)

    assert taken.state().open_stops
    assert taken.loaded().infusion.transfer is not None


def test_what_runs_otherwise_than_it_is_in_force_is_read_again_by_both(taken: Ward) -> None:
    otherwise = changed(answers(), device={"demand_dose": "2 mg"})
    both_read(is_checked_by(taken, NADIA, INES), (NADIA, INES), answers(), otherwise)

    assert (taken.phase, taken.state().must_read_again) == (Phase.DISPUTED, True)


def test_what_the_receiving_nurse_reads_enters_the_account(taken: Ward) -> None:
    infusion = taken.state().check.infusion
    is_checked_by(taken, NADIA, INES).wait(timedelta(minutes=60))
    totals = ("0.2 mg", "1", "26.7 mL"), ("0.4 mg", "2", "25.7 mL")
    one, other = (
        changed(answers(), totals={"total_amount": total, "doses": doses, "presses": doses, "left": left})
        for total, doses, left in totals
    )
    # A dose was given between the two.
    taken.reads(NADIA, one).wait(timedelta(minutes=12)).reads(INES, other).compares()
    assert taken.state().open_stops == ()
    taken.signs(NADIA).signs(INES)

    with taken.site.store.read() as reader:
        account = account_of(reader, infusion).written()
    assert [each["totals"]["doses"] for each in account if each["kind"] == "read"] == [2]


def test_where_the_sender_has_left_two_of_the_receiving_unit_read(taken: Ward) -> None:
    assert opens(taken, RALPH) == opening.AnotherAnswers(name=NADIA.printed_name)

    is_signed_by(is_checked_by(taken, RALPH, INES, in_place=True), RALPH, INES)

    assert taken.loaded().infusion.transfer is None
    assert taken.loaded().infusion.responsible == INES.id


def test_any_check_that_two_make_of_it_there_settles_it(taken: Ward) -> None:
    opened = opening.open_on_infusion(taken.site, taken.act(INES), HANDOFF, taken.state().check.infusion)
    assert isinstance(opened, opening.Opened)
    taken.check = opened.check
    is_signed_by(taken.joins(RALPH), INES, RALPH)

    assert taken.loaded().infusion.transfer is None
    assert opens(taken) == NotOnShift()
    assert opens(taken, RALPH) == opening.Barred(bar=Bar.NOT_TAKEN)


# -----------------------------------------------------------------------------------------------------------
# What protects the patient counts at either bed


def test_a_stop_note_at_either_bed_counts_for_it_and_for_its_check(taken: Ward) -> None:
    old = taken.state().check.bed
    is_checked_by(taken, NADIA, INES)

    noted = stopping.note_stop_at(
        taken.site, taken.act(RUTH), RUTH.roles, unit=WARD, bed=old, stop=stopping.Stop()
    )

    assert isinstance(noted, stopping.StopNoted)
    assert not taken.loaded().infusion.is_running
    assert [each.note for each in taken.state().stop_notes] == [noted.note]
    # Its author may say that it was another bed: then it never stopped.
    assert taken.saying_misplaced(RUTH, noted.note) == stopping.SaidMisplaced()
    assert taken.loaded().infusion.is_running


def test_a_stop_at_the_bed_that_it_left_counts_for_whoever_lies_there_now_too(taken: Ward) -> None:
    old, first = taken.state().check.bed, taken.state().check.infusion
    taken.opens(bed=old)
    second = taken.state().check.infusion
    assert second != first

    noted = stopping.note_stop_at(
        taken.site, taken.act(RUTH), RUTH.roles, unit=WARD, bed=old, stop=stopping.Stop()
    )

    assert isinstance(noted, stopping.StopNoted)
    assert taken.state().stopped
    assert {*found_at(taken, WARD, old)} == {second}
    assert taken.saying_misplaced(RUTH, noted.note) == stopping.SaidMisplaced()
    assert {*found_at(taken, WARD, old)} == {first, second}
    assert not taken.state().stopped


def test_what_is_written_of_whoever_lies_there_now_is_not_of_the_one_that_was_taken(taken: Ward) -> None:
    old, first = taken.state().check.bed, taken.state().check.infusion
    taken.opens(bed=old)
    second = taken.state().check.infusion
    acts: tuple[Callable[[], object], ...] = (
        lambda: emergencies.note_reversal(taken.site, taken.act(RUTH), second),
        lambda: emergencies.note_harm(taken.site, taken.act(RUTH), second, what="overdose"),
        lambda: emergencies.note_away(taken.site, taken.act(RUTH), second, what="theatre"),
        lambda: taken.noting_a_stop(RUTH, why="sedation-or-breathing"),
    )
    for write in acts:
        write()

    with taken.site.store.read() as reader:
        went_on, stopped = (load_infusion(reader, each) for each in (first, second))
    assert went_on.is_running
    assert went_on.emergencies == NOTHING_STANDS
    assert stopped.emergencies.hold is not None
    assert stopped.emergencies.evidence is not None
    assert len(taken.state().stop_notes) == len(acts)


@pytest.mark.parametrize("who", [NADIA, INES], ids=["sending", "receiving"])
def test_either_unit_pauses_the_line(taken: Ward, who: Somebody) -> None:
    assert taken.pausing_line(who) == pausing.Paused()
    assert taken.loaded().infusion.pause is not None


def test_once_two_have_read_the_sending_unit_still_writes_down_a_pause_and_ends_none(taken: Ward) -> None:
    is_signed_by(is_checked_by(taken, NADIA, INES), NADIA, INES)

    assert taken.pausing_line(NADIA) == pausing.Paused()
    assert taken.resuming_line(NADIA, taken.a_look()) == NotOnShift()


def test_who_took_it_is_told_until_when_two_read_it_and_others_are_not(taken: Ward) -> None:
    infusion = taken.state().check.infusion

    for who in (INES, RALPH):
        seen = transferring.see_transfer(taken.site, taken.act(who), infusion)
        assert isinstance(seen, transferring.TransferSeen)
        assert (seen.bed, seen.sender, seen.is_open) == (TO, NADIA.printed_name, False)
    # Petra serves every unit, and takes part in no check.
    for who in (NADIA, PETRA, QUILL):
        assert transferring.see_transfer(taken.site, taken.act(who), infusion) == NotFound()


def test_the_bed_that_it_left_is_free_and_the_new_set_up_there_is_of_another(taken: Ward) -> None:
    old, infusion = taken.state().check.bed, taken.state().check.infusion
    taken.opens(bed=old)

    assert taken.state().check.infusion != infusion


def test_a_set_up_after_a_stop_is_of_what_was_taken_there_whatever_was_opened_there_before(
    running: Ward,
) -> None:
    infusion = running.state().check.infusion

    def set_up() -> str:
        opened = opening.open_check(running.site, running.wait().act(RALPH), unit=RECOVERY, bed=TO)
        assert isinstance(opened, opening.Opened), opened
        running.check = opened.check
        return running.state().check.infusion

    first = running.check
    # Opened at that bed after the other was at its own, and given up.
    assert set_up() != infusion
    running.abandons(RALPH)
    running.check = first
    assert isinstance(takes(running.wait()), transferring.Taken)
    running.stops(INES)

    assert set_up() == infusion


def test_while_it_is_due_the_bed_there_may_change(taken: Ward) -> None:
    old, infusion = taken.state().check.bed, taken.state().check.infusion
    moved = changing.change_bed(taken.site, taken.act(INES), infusion, bed=OTHER)

    assert moved == changing.BedKept(bed=OTHER)
    assert found_at(taken, WARD, old) == found_at(taken, RECOVERY, OTHER) == [infusion]
    assert found_at(taken, RECOVERY, TO) == []


def test_its_record_and_its_store_verify(taken: Ward) -> None:
    both_read(is_checked_by(taken, NADIA, INES), (NADIA, INES), answers(), answers())
    assert taken.signing(INES) == signing.Signed()
    assert taken.signing(NADIA) == signing.Signed(end=TRANSFER.end)

    assert check_invariants(taken.site, taken.now) == ()
    assert isinstance(issue_record(taken.site, taken.check, 1, taken.wait().now), Issued)
    with taken.site.store.read() as reader:
        pdf = reader.find_pdf(taken.check, 1)
    assert pdf is not None
    said = verify_here(taken.site, taken.wait().now, pdf.content)
    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []
    steps = verify_store(taken.site, taken.wait().now, Wanted(pages=True))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []


def observed_next(ward: Ward) -> datetime | None:
    infusion = ward.loaded().infusion
    with ward.site.store.read() as reader:
        protocol = rules_in_force(reader, ward.now).observations
        return observe_next(reader, infusion, protocol, ward.now)


def test_leaving_recovery_starts_the_clock_of_observations_anew_and_entering_it_does_not(taken: Ward) -> None:
    taken.wait(timedelta(hours=3))
    due = observed_next(taken)
    assert due is not None
    assert due - taken.now > timedelta(minutes=30)

    bed = taken.state().check.bed
    assert isinstance(takes(taken, NADIA, before=(RECOVERY, TO), bed=bed, unit=WARD), transferring.Taken)

    assert observed_next(taken) == taken.now + timedelta(minutes=30)
