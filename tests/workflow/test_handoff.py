"""A handoff: each reads a part alone, and with the second signature the incoming nurse answers for it."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.course import Bar
from app.records.kinds import HANDOFF
from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.site.loading import account_of
from app.workflow import opening, reading, signing
from app.workflow.issuing import Issued, issue_record
from app.workflow.listing import unit_list
from app.workflow.refusals import NotFound, NotNow
from tests.factories.answers import HARD_TO_WAKE, answers, as_read, changed
from tests.story.people import IMOGEN, NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward

DEVICE_OTHERWISE = changed(answers(), device={"demand_dose": "2 mg"})


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def responsible(ward: Ward) -> str:
    return ward.loaded().infusion.responsible


def sources_of(ward: Ward, who: Somebody) -> list[Source]:
    desk = reading.open_desk(ward.site, ward.act(who), ward.check)
    assert isinstance(desk, reading.Desk)
    return [Source(name) for name, _ in desk.round.scope]


def test_each_reads_the_own_part(running: Ward) -> None:
    running.hands_over()

    assert sources_of(running, NADIA) == [Source.TOTALS, Source.BEDSIDE]
    assert sources_of(running, TOMAS) == [
        Source.WRISTBAND,
        Source.LABEL,
        Source.DEVICE,
        Source.TOTALS,
        Source.BEDSIDE,
    ]


def test_what_is_not_ones_part_cannot_be_written(running: Ward) -> None:
    running.hands_over()

    desk = reading.open_desk(running.site, running.act(NADIA), running.check)
    assert isinstance(desk, reading.Desk)
    kept = reading.save_draft(
        running.site,
        running.act(NADIA),
        running.check,
        source=Source.LABEL,
        read=as_read({"lot": "LOT-7"}),
        page=desk.page,
    )
    assert kept == NotFound()


def test_with_the_second_signature_the_incoming_nurse_answers_for_it(running: Ward) -> None:
    in_force = running.loaded().infusion.in_force
    assert responsible(running) == NADIA.id

    running.hands_over().both_read().compares().signs(TOMAS)
    assert responsible(running) == NADIA.id

    assert running.signing(NADIA) == signing.Signed(end=HANDOFF.end)
    assert (running.phase, responsible(running)) == (Phase.DONE, TOMAS.id)
    # What two signed of order, label and device stays in force.
    assert running.loaded().infusion.in_force == in_force
    running.hands_over(TOMAS, to=NADIA).both_read().compares().both_sign()
    assert responsible(running) == NADIA.id


def test_what_runs_is_still_held_beside_the_order_after_a_handoff(running: Ward) -> None:
    running.hands_over().both_read().compares().both_sign().re_checks()
    changed_order = changed(answers(), order={"lockout": "12 min"}, device={"lockout": "12 min"})
    running.both_read(changed_order).compares()

    assert {each.code for each in running.state().open_stops} == {"order-differs-from-record"}


def test_what_the_incoming_nurse_reads_enters_the_account(running: Ward) -> None:
    infusion = running.state().check.infusion
    running.hands_over()
    one, other = (
        changed(answers(), totals={"total_amount": total, "doses": doses, "presses": doses, "left": left})
        for total, doses, left in (("0.2 mg", "1", "26.7 mL"), ("0.4 mg", "2", "25.7 mL"))
    )
    running.wait(timedelta(minutes=60))
    running.reads(NADIA, one)
    running.wait(timedelta(minutes=12))
    running.reads(TOMAS, other).compares()
    assert running.state().open_stops == ()
    assert running.phase is Phase.SIGNING, running.state().cautions
    running.both_sign()

    with running.site.store.read() as reader:
        account = account_of(reader, infusion).written()
    assert [each["totals"]["doses"] for each in account if each["kind"] == "read"] == [2]


def test_what_one_alone_read_otherwise_both_read_again(running: Ward) -> None:
    running.hands_over().both_read(answers(), DEVICE_OTHERWISE).compares()
    assert (running.phase, running.state().must_read_again) == (Phase.DISPUTED, True)

    running.reads_again()
    assert sources_of(running, NADIA) == sources_of(running, TOMAS) == [Source.DEVICE]
    running.both_read().compares()

    assert running.phase is Phase.SIGNING


def test_what_both_read_otherwise_leads_on(running: Ward) -> None:
    running.hands_over().both_read(DEVICE_OTHERWISE).compares().reads_again()
    running.both_read(DEVICE_OTHERWISE).compares()

    assert not running.state().must_read_again
    assert "device-differs" in {each.code for each in running.state().open_stops}
    assert running.leads_on().phase is Phase.LED
    assert responsible(running) == NADIA.id


def test_after_danger_was_seen_each_reads_the_own_part_anew(running: Ward) -> None:
    running.hands_over()
    assert running.saying_danger(TOMAS, "device") == reading.Voided()

    assert sources_of(running, NADIA) == [Source.TOTALS, Source.BEDSIDE]
    assert Source.DEVICE in sources_of(running, TOMAS)


def test_nobody_is_handed_over_a_patient_who_is_too_sedated(running: Ward) -> None:
    running.hands_over().both_read(changed(answers(), bedside={"sedation": HARD_TO_WAKE})).compares()

    assert {each.code for each in running.state().open_stops} == {"outside-protocol"}
    assert running.signing(NADIA) == NotNow(phase=Phase.DISPUTED)


# -----------------------------------------------------------------------------------------------------------
# Refused


def test_whoever_answers_for_it_opens_it_and_cannot_join(running: Ward) -> None:
    assert running.handing_over(TOMAS) == opening.AnotherAnswers(name=NADIA.printed_name)

    # Nadia has left, and Ruth hands over in her place.
    opened = running.handing_over(RUTH, in_place=True)
    assert isinstance(opened, opening.Opened)
    running.check = opened.check
    assert running.joining(NADIA) == opening.AnswersAlready()
    running.joins(IMOGEN).reads(RUTH).reads(IMOGEN).compares().both_sign()
    assert responsible(running) == IMOGEN.id


def test_what_no_two_have_checked_is_re_checked_first(ward: Ward) -> None:
    ward.starts_without_check(bed="31")
    (infusion,) = (each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked)

    opened = opening.open_on_infusion(ward.site, ward.act(NADIA), HANDOFF, infusion)
    assert opened == opening.Barred(bar=Bar.NOT_CHECKED)


def test_what_was_stopped_is_not_handed_over(running: Ward) -> None:
    assert running.stops().handing_over(NADIA) == opening.Barred(bar=Bar.NOT_RUNNING)


def test_its_record_and_its_store_verify(running: Ward) -> None:
    running.hands_over().both_read().compares().both_sign()

    assert check_invariants(running.site, running.now) == ()
    assert isinstance(issue_record(running.site, running.check, 1, running.wait().now), Issued)
    with running.site.store.read() as reader:
        pdf = reader.find_pdf(running.check, 1)
    assert pdf is not None
    said = verify_here(running.site, running.wait().now, pdf.content)
    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []
    steps = verify_store(running.site, running.wait().now, Wanted(pages=True))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []


# -----------------------------------------------------------------------------------------------------------
# The account


def of_totals(**totals: str) -> Answers:
    """Two doses were given, and the totals say so, but for some of them."""
    return changed(
        answers(),
        totals={"total_amount": "0.4 mg", "doses": "2", "presses": "2", "left": "25.7 mL", **totals},
    )


def test_totals_that_do_not_add_up_keep_nobody_from_handing_over(running: Ward) -> None:
    too_much = of_totals(doses="1", presses="1")
    running.hands_over().wait(timedelta(hours=1)).both_read(too_much).compares()
    found = {each.code for each in running.state().findings if each.severity == "stop"}
    assert "account-totals-above-predicted" in found

    # Counted once more by both together, it is open, and both sign that it is.
    running.recounts().both_read(too_much).compares()
    assert (running.state().open_stops, running.phase) == ((), Phase.SIGNING)
    running.both_sign()
    assert (running.phase, responsible(running)) == (Phase.DONE, TOMAS.id)


def test_presses_far_above_doses_are_considered_by_both(running: Ward) -> None:
    running.hands_over().wait(timedelta(hours=1)).both_read(of_totals(presses="60")).compares()
    assert running.phase is Phase.AGREED
    assert {each.code for each in running.state().cautions} == {"account-presses-far-above-doses"}

    for who in (NADIA, TOMAS):
        running.acknowledges(who, "account-presses-far-above-doses")
    assert running.signing(TOMAS) == signing.Signed()


def test_totals_that_cannot_both_be_right_are_read_again_in_one_go_at_one_moment(running: Ward) -> None:
    running.hands_over().wait(timedelta(hours=1))
    running.both_read(of_totals(), of_totals(doses="21", presses="21")).compares()
    assert running.state().must_read_again

    # Meanwhile a dose was given.
    running.wait(timedelta(minutes=12)).reads_again()
    three = {"total_amount": "0.6 mg", "doses": "3", "presses": "3", "left": "24.7 mL"}
    running.both_read(of_totals(**three)).compares()
    assert (running.state().open_stops, running.phase) == ((), Phase.SIGNING)
