"""A settings change: a new order on what runs, read blind, cleared, and put in force by a start."""

from datetime import timedelta

import pytest

from app.records.course import Bar
from app.records.infusion import InfusionState
from app.records.kinds import SETTINGS_CHANGE
from app.records.sources import Source
from app.records.state import Phase
from app.records.ward_events import LinePaused
from app.site.loading import account_of, known_of, load_infusion
from app.workflow import opening, stepping
from app.workflow.listing import unit_list
from app.workflow.pausing import CheckComesFirst, Look, Resumed, pause_line, resume_line
from app.workflow.refusals import NotNow
from tests.factories.answers import answers, changed
from tests.story.people import NADIA, RUTH, TOMAS
from tests.story.ward import Ward

HIGHER = {"demand_dose": "0.3 mg"}
RAISED = changed(answers(), order=HIGHER, device=HIGHER)


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def of_infusion(ward: Ward) -> InfusionState:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def test_it_is_opened_on_what_runs_is_paused_or_was_stopped(running: Ward) -> None:
    infusion = infusion_of(running)
    running.changes(SETTINGS_CHANGE).abandons()
    pause_line(running.site, running.act(NADIA), infusion, why="walk")
    running.changes(SETTINGS_CHANGE).abandons().stops()
    state = running.changes(SETTINGS_CHANGE).state()

    assert (state.check.kind, state.check.infusion) == ("settings-change", infusion)
    assert state.current is not None
    assert [source for source, _ in state.current.scope] == [
        Source.WRISTBAND,
        Source.CHART,
        Source.ORDER,
        Source.LABEL,
        Source.DEVICE,
    ]


def test_it_goes_to_its_end(running: Ward) -> None:
    infusion = infusion_of(running)
    running.changes(SETTINGS_CHANGE).does(NADIA, "paused", "programmed").verifies(TOMAS, "paused")
    assert of_infusion(running).pause is not None
    running.both_read(RAISED).compares()
    assert running.phase is Phase.STEPS, running.state().findings
    running.confirms_all().both_sign().both_look().starts()

    state = of_infusion(running)
    assert (running.phase, state.is_running, state.pause, state.in_force) == (
        Phase.STARTED,
        True,
        None,
        running.check,
    )
    with running.site.store.read() as reader:
        assert known_of(reader, state).previous["demand_dose"] == "0.3 mg"
        kinds = [each.data["kind"] for each in account_of(reader, infusion).entries]
    assert kinds == ["issued", "loaded", "primed", "settings", "started", "paused", "settings", "started"]


def test_paused_for_it_nothing_runs_on_before_it_is_cleared_or_given_up(running: Ward) -> None:
    running.changes(SETTINGS_CHANGE).does(NADIA, "paused")
    state = of_infusion(running)
    assert state.pause is not None
    assert (state.pause.why, state.pause.by) == ("change", NADIA.id)
    look = Look(
        pause=state.pause.position,
        in_force=state.in_force,
        pressure="none",
        sedation="0",
        respiratory_rate="14 /min",
        same=True,
    )
    infusion = infusion_of(running)
    assert resume_line(running.site, running.act(RUTH), infusion, look=look) == CheckComesFirst()

    running.abandons()
    assert isinstance(resume_line(running.site, running.act(RUTH), infusion, look=look), Resumed)
    assert of_infusion(running).is_running


def test_whoever_names_the_other_as_the_one_who_paused_it_has_paused_it_once(running: Ward) -> None:
    running.changes(SETTINGS_CHANGE).takes(TOMAS, stepping.Given(named=("paused",))).does(NADIA, "paused")
    infusion = infusion_of(running)

    with running.site.store.read() as reader:
        told = [each for each in reader.course(infusion) if isinstance(each.event, LinePaused)]
    assert len(told) == 1


def test_another_syringe_is_not_put_right_in_it(running: Ward) -> None:
    running.changes(SETTINGS_CHANGE).both_read(RAISED).compares()

    assert isinstance(running.reading_again(NADIA, "label"), NotNow)
    assert isinstance(running.reading_again(NADIA, "label", "device"), NotNow)
    running.reads_again(NADIA, "device")


def test_what_was_set_before_and_left_is_told_as_a_stale_value(running: Ward) -> None:
    running.changes(SETTINGS_CHANGE).both_read(changed(answers(), order=HIGHER)).compares()
    found = running.found("device-differs")

    assert (running.phase, found.field, found.slip) == (Phase.DISPUTED, "demand_dose", "stale-value")


def test_a_continuous_part_that_was_taken_away_and_left_on_is_a_stop(ward: Ward) -> None:
    both = {"mode": "demand-and-continuous", "continuous_rate": "0.1 mg/h"}
    with_continuous = changed(answers(), order=both, device=both)
    running = ward.opens().joins().both_read(with_continuous).compares()
    for code in {each.code for each in running.state().cautions}:
        running.acknowledges(NADIA, code).acknowledges(TOMAS, code)
    running.confirms_all().both_sign().both_look().starts()
    running.changes(SETTINGS_CHANGE).both_read(changed(answers(), device=both)).compares()

    found = {(each.code, each.field): each.slip for each in running.state().open_stops}
    assert found["device-differs", "mode"] == found["device-differs", "continuous_rate"] == "stale-value"


def test_a_re_check_that_finds_the_device_set_otherwise_leads_to_it(running: Ward) -> None:
    running.re_checks().both_read(changed(answers(), device=HIGHER)).compares().leads_on()
    assert of_infusion(running).led_to == "settings-change"

    running.changes(SETTINGS_CHANGE).both_read().compares()
    running.confirms_all().both_sign().both_look().starts()
    assert of_infusion(running).led_to == ""


def test_what_is_wrong_with_the_syringe_leads_to_a_set_up(running: Ward) -> None:
    expired = changed(answers(), label={"use_by": "2031-01-31"}, device=HIGHER)
    running.re_checks().both_read(expired).compares().leads_on()

    assert of_infusion(running).led_to == "repeat-set-up"
    assert running.opening_on(NADIA, SETTINGS_CHANGE) == opening.Barred(
        bar=Bar.LED_ELSEWHERE, led_to="repeat-set-up"
    )


def test_stopped_too_long_ago_nothing_of_it_is_changed(running: Ward) -> None:
    running.stops()
    running.now += timedelta(hours=13)

    assert running.opening_on(NADIA, SETTINGS_CHANGE) == opening.Barred(bar=Bar.NOT_RUNNING)


def test_what_nobody_has_checked_is_checked_before_anything_of_it_is_changed(ward: Ward) -> None:
    ward.starts_without_check(bed="31")
    (infusion,) = (each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked)
    asked = opening.open_on_infusion(ward.site, ward.act(NADIA), SETTINGS_CHANGE, infusion)

    assert asked == opening.Barred(bar=Bar.NOT_CHECKED)


def test_a_stop_of_the_patient_asks_for_a_new_baseline(running: Ward) -> None:
    running.changes(SETTINGS_CHANGE).both_read(RAISED).compares().confirms_all()
    assert running.phase is Phase.SIGNING

    running.stops(why="sedation-or-breathing")
    assert (running.phase, running.state().baseline) == (Phase.STEPS, None)
