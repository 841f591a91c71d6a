"""What has become of a check is its title; the worst finding leads only where nothing has."""

from datetime import timedelta

import pytest

from app.records.kinds import END_OF_PCA, HANDOFF, REPEAT_SET_UP, SET_UP, SYRINGE_CHANGE, Kind
from app.records.state import BLIND, Phase
from app.words.titles import SET_ASIDE, STOPPED, title_of, what_follows
from tests.factories.findings import RULE
from tests.story.events import CLEARANCE, NADIA, TOMAS, Story

BECAME = {
    Phase.CLEARED: "Ready to start",
    Phase.LAPSED: "No longer ready to start: the device shows something else",
    Phase.STARTED: "The infusion was started",
    Phase.DONE: "This check is done: order, label and device agree",
    Phase.ABANDONED: "This check was given up",
    Phase.LED: "This check led to a repeat set-up",
}


@pytest.mark.parametrize(("phase", "title"), BECAME.items())
def test_what_has_become_of_a_check_is_its_title_whatever_was_found(phase: Phase, title: str) -> None:
    state = Story().at_stage(phase).state()

    assert {title_of(state, is_stopped=False, leads=leads) for leads in (True, False)} == {title}


def test_a_clearance_that_lapsed_says_whether_a_look_or_the_time_ended_it() -> None:
    late = Story().cleared().state(later=CLEARANCE + timedelta(seconds=1))

    assert late.phase is Phase.LAPSED
    title = title_of(late, is_stopped=False, leads=False)
    assert title == "No longer ready to start: the time has run out"


@pytest.mark.parametrize("phase", Phase)
def test_a_stopped_device_comes_before_everything_else(phase: Phase) -> None:
    assert title_of(Story().at_stage(phase).state(), is_stopped=True, leads=True) == STOPPED


def test_so_does_a_paused_line_but_for_a_stop() -> None:
    started = Story().at_stage(Phase.STARTED).state()
    assert title_of(started, is_stopped=False, is_paused=True, leads=True) == "The line is paused"
    assert title_of(started, is_stopped=True, is_paused=True, leads=True) == STOPPED


@pytest.mark.parametrize("phase", sorted(BLIND))
def test_to_whoever_helps_while_the_two_still_read_nothing_agrees_yet(phase: Phase) -> None:
    title = title_of(Story().at_stage(phase).state(), is_stopped=False, leads=False)

    assert title == "Nothing is compared yet: the two still read"


def test_a_finding_leads_while_nothing_has_become_of_the_check() -> None:
    steps = Story().at_stage(Phase.STEPS).state()

    assert title_of(steps, is_stopped=False, leads=True) == ""
    assert title_of(steps, is_stopped=False, leads=False) == "Order, label and device agree"


def test_a_rule_that_was_set_aside_is_said() -> None:
    told = Story().found(RULE).asked_for_help().help_taken().excepted(RULE).help_settled("other").state()

    assert title_of(told, is_stopped=False, leads=False) == SET_ASIDE


@pytest.mark.parametrize(
    ("kind", "follows"),
    [
        (HANDOFF, "With both signatures Tomas Osmund answers for this infusion."),
        (END_OF_PCA, "With both signatures this infusion has ended."),
        (
            SYRINGE_CHANGE,
            "What is left of the old syringe is wasted before a witness, or given back to the pharmacy.",
        ),
        (
            REPEAT_SET_UP,
            (
                "What is left of a syringe that is not used again is wasted before a witness, "
                "or given back to the pharmacy."
            ),
        ),
        (SET_UP, ""),
    ],
)
def test_what_its_end_means_is_said_once_it_has_come(kind: Kind, follows: str) -> None:
    people = {NADIA: "Nadia Ferrow", TOMAS: "Tomas Osmund"}
    signed = Story(kind=kind).found().frozen().signed()
    assert what_follows(signed.state(), people) == ""

    over = signed.started() if kind.end is SET_UP.end else signed.done()
    assert what_follows(over.state(), people) == follows
