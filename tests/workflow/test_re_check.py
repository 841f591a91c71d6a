"""A re-check: opened on what runs, done with the second signature, and led on where something is wrong."""

import json

import pytest

from app.auditing.invariants import check_invariants
from app.records.course import Bar, Course
from app.records.kinds import RE_CHECK, SET_UP
from app.records.ranking import Standing
from app.records.sources import Source
from app.records.state import Phase
from app.site.loading import load_infusion
from app.workflow import opening, settling, signing
from app.workflow.findings import PastFindings, Wanted, past_findings
from app.workflow.listing import unit_list
from app.workflow.looking import RecordSeen, see_record
from app.workflow.refusals import NotFound, NotNow, NotOnShift
from tests.factories.answers import answers, changed
from tests.story.people import INES, NADIA, QUILL, RUTH, TOMAS
from tests.story.script import Read
from tests.story.ward import DIFFERING, Ward

SET_OTHERWISE = changed(answers(), device={"demand_dose": "0.3 mg"})


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


# -----------------------------------------------------------------------------------------------------------
# Opening


def test_it_belongs_to_the_infusion_that_runs_and_reads_what_is_on_the_device(running: Ward) -> None:
    infusion = infusion_of(running)
    state = running.re_checks().state()

    assert (state.check.kind, state.check.infusion) == ("re-check", infusion)
    assert state.current is not None
    assert [source for source, _ in state.current.scope] == [
        Source.WRISTBAND,
        Source.ORDER,
        Source.LABEL,
        Source.DEVICE,
        Source.TOTALS,
    ]
    assert state.plan is None


def test_only_what_runs_is_checked_again(ward: Ward) -> None:
    assert ward.at_stage(Phase.ABANDONED).re_checking(NADIA) == opening.Barred(bar=Bar.NOT_RUNNING)
    assert ward.at_stage(Phase.STARTED).stops().re_checking(NADIA) == opening.Barred(bar=Bar.NOT_RUNNING)


def test_at_a_bed_one_check_is_open_at_a_time(running: Ward) -> None:
    first = running.re_checks().check

    assert running.re_checking(RUTH) == opening.AlreadyOpen(check=first)
    assert running.opening(RUTH, bed=running.state().check.bed) == opening.AlreadyOpen(check=first)


def test_what_is_opened_at_a_bed_is_not_opened_on_an_infusion(running: Ward) -> None:
    asked = opening.open_on_infusion(running.site, running.act(NADIA), SET_UP, infusion_of(running))

    assert asked == NotFound()


def test_it_is_opened_on_the_unit_of_the_shift(running: Ward) -> None:
    assert running.re_checking(INES) == NotOnShift()


def test_a_re_check_passes_its_count_on_to_the_next_re_check_and_to_no_set_up(running: Ward) -> None:
    running.re_checks().both_read(answers(), DIFFERING).compares().reads_again()
    running.both_read(answers(), DIFFERING).compares().abandons()
    bed = running.state().check.bed

    assert running.re_checks().state().rereadings == 1
    assert running.abandons().stops().opens(bed=bed).state().rereadings == 0


# -----------------------------------------------------------------------------------------------------------
# To its end


def test_its_record_has_no_steps_and_is_frozen_when_nothing_is_left_to_say(running: Ward) -> None:
    running.re_checks().both_read().compares()
    record = see_record(running.site, running.act(NADIA), running.check)

    assert running.phase is Phase.SIGNING
    assert isinstance(record, RecordSeen)
    document = json.loads(record.frozen.document)
    assert not {"safety_steps", "baseline", "priming"} & document.keys()
    assert "safety_steps" not in document["versions"]
    assert set(document["rounds"][0]["readings"]["A"]) == {"wristband", "order", "label", "device", "totals"}


def test_it_is_done_with_the_second_signature(running: Ward) -> None:
    running.re_checks().both_read().compares().signs(TOMAS)
    assert not running.state().has_ended

    assert running.signing(NADIA) == signing.Signed(end=RE_CHECK.end)
    assert (running.phase, running.state().cleared_at) == (Phase.DONE, None)


def test_done_it_settles_that_the_infusion_runs_without_a_check(ward: Ward) -> None:
    ward.starts_without_check(bed="31")
    (infusion,) = (each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked)
    opened = opening.open_on_infusion(ward.site, ward.act(NADIA), RE_CHECK, infusion)
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    ward.joins().both_read().compares().both_sign()

    listed = unit_list(ward.site, ward.act(RUTH))
    assert listed.unchecked == ()
    assert [(each.infusion, each.led_to) for each in listed.running] == [(infusion, "")]


def test_nobody_signs_of_a_device_that_was_stopped_meanwhile(running: Ward) -> None:
    running.re_checks().both_read().compares().signs(TOMAS).stops()

    assert running.signing(NADIA) == signing.StillOpen()
    assert running.leads_on().phase is Phase.LED


# -----------------------------------------------------------------------------------------------------------
# What it finds


def test_what_is_wrong_is_neither_put_right_nor_signed_in_it(running: Ward) -> None:
    running.re_checks().both_read(SET_OTHERWISE).compares()

    assert running.phase is Phase.DISPUTED
    assert running.reading_again(NADIA, "device") == NotNow(phase=Phase.DISPUTED)
    assert running.signing(NADIA) == NotNow(phase=Phase.DISPUTED)


def test_what_the_two_read_differently_is_read_again_as_ever(running: Ward) -> None:
    running.re_checks().both_hand_in(Read.APART).compares().reads_again().both_read().compares()

    assert running.phase is Phase.SIGNING


def test_either_of_the_two_leads_on_and_nobody_else(running: Ward) -> None:
    running.re_checks().both_read(SET_OTHERWISE).compares()

    assert type(running.leading_on(RUTH)).__name__ == "NotYours"
    assert running.leading_on(TOMAS) == settling.Done()
    assert running.leading_on(NADIA) == NotNow(phase=Phase.LED)


def test_given_up_it_leaves_what_both_had_found(running: Ward) -> None:
    running.re_checks().both_read(SET_OTHERWISE).compares().abandons()

    (line,) = unit_list(running.site, running.act(RUTH)).running
    assert (running.phase, line.standing, line.led_to) == (Phase.ABANDONED, Standing.LED, "settings-change")


def test_after_what_it_led_to_a_set_up_of_the_same_infusion_starts_it_again_too(running: Ward) -> None:
    infusion, bed = infusion_of(running), running.state().check.bed
    running.re_checks().both_read(SET_OTHERWISE).compares().leads_on()
    (line,) = unit_list(running.site, running.act(RUTH)).running
    assert (line.infusion, line.led_to) == (infusion, "settings-change")
    running.opens(bed=bed).joins()

    assert (running.state().check.kind, infusion_of(running)) == ("repeat-set-up", infusion)
    assert running.state().course == Course.LED_TO
    running.both_read().compares().confirms_all().both_sign().both_look().starts()
    (line,) = unit_list(running.site, running.act(RUTH)).running
    assert (line.standing, line.led_to) == (Standing.RUNNING, "")


def test_a_changed_order_is_found_beside_the_order_of_record(running: Ward) -> None:
    both = {"demand_dose": "0.3 mg"}
    running.re_checks().both_read(changed(answers(), order=both, device=both)).compares()

    assert "order-differs-from-record" in {each.code for each in running.state().findings}


def test_another_patient_is_found(running: Ward) -> None:
    running.re_checks().both_read(changed(answers(), wristband={"identifier": "INVENTED-9"})).compares()

    assert "patient-differs" in {each.code for each in running.state().findings}


def test_a_rule_that_a_third_person_sets_aside_keeps_nobody_from_signing(ward: Ward) -> None:
    ward.starts_without_check(bed="31")
    (infusion,) = (each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked)
    opened = opening.open_on_infusion(ward.site, ward.act(NADIA), RE_CHECK, infusion)
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    short = {"lockout": "4 min"}
    ward.joins().both_read(changed(answers(), order=short, device=short)).compares()
    ward.asks_for_help().takes_help(RUTH).grants("below-hard-limit").settles_help("other").both_sign()

    assert ward.phase is Phase.DONE


def test_whatever_it_came_to_everything_stored_holds(ward: Ward) -> None:
    for phase in (Phase.DONE, Phase.LED):
        ward.at_stage(phase)
    assert check_invariants(ward.site, ward.now) == ()
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        assert load_infusion(reader, infusion).led_to == "settings-change"


def test_what_it_found_is_in_the_log_of_findings(ward: Ward) -> None:
    ward.at_stage(Phase.LED)
    page = past_findings(ward.site, ward.act(QUILL), QUILL.roles, Wanted())

    assert isinstance(page, PastFindings)
    listed = [each.listed for each in page.rows if each.listed.row.severity == "stop"]
    assert {(each.row.kind, each.how) for each in listed} == {("re-check", "led to another check")}
