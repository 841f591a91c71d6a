"""What the two read again: how often they may, and what a next reading undoes."""

from datetime import timedelta

import pytest

from app.records.followup import Found
from app.records.kept import FIRST, SECOND
from app.records.reading import Scope
from app.records.state import Phase
from tests.factories.findings import DEVICE_WRONG, DIFFER, RULE, a_finding
from tests.story.events import CLEARANCE, Story


@pytest.mark.parametrize(
    ("told", "counted"),
    [
        (Story().found(DIFFER).next_reading(), 1),
        (Story().found(DIFFER).read_again(DIFFER).next_reading(), 2),
        # A source that was put right is read until it agrees: nothing is counted.
        (Story().found(DEVICE_WRONG).next_reading("device"), 0),
        # Readings that disagree count, whatever else is said to have been touched.
        (Story().found(DIFFER, DEVICE_WRONG).next_reading("device"), 1),
        # A voided round was no try.
        (Story().found(DIFFER).next_reading().voided(), 1),
        # The third person has looked: one more pair of readings.
        (
            Story().found(DIFFER).read_again(DIFFER).read_again(DIFFER).asked_for_help().help_taken()
            .help_settled("read-again"),
            1,
        ),
        (
            Story().found(DIFFER).read_again(DIFFER).read_again(DIFFER).asked_for_help().help_taken()
            .help_settled("read-again").next_reading(outcome="read-again"),
            2,
        ),
        (Story().found(DIFFER).asked_for_help().help_taken().help_settled("read-again"), 0),
        (
            Story().found(DIFFER).read_again(DIFFER).read_again(DIFFER).asked_for_help().help_taken()
            .help_settled("other"),
            1,
        ),
    ],
)  # fmt: skip
def test_readings_again_are_counted(told: Story, counted: int) -> None:
    assert told.state().rereadings == counted


@pytest.mark.parametrize(
    "asked", [(("device", ("demand_dose",)),), (("label", ()), ("device", ("lockout",)))]
)
def test_after_a_danger_in_no_source_that_is_named_the_same_fields_are_asked(asked: Scope) -> None:
    before, after = Story().found(DIFFER).next_reading(scope=asked).voided().state().rounds[-2:]

    assert before.voided
    assert after.scope == before.scope == asked


@pytest.mark.parametrize(
    ("told", "needed"),
    [
        (Story().found(DIFFER), False),
        (Story().found(DIFFER).read_again(DIFFER), False),
        (Story().found(DIFFER).read_again(DIFFER).read_again(DIFFER), True),
        (Story().found(DIFFER).read_again(DIFFER).read_again(), False),
        (Story().opened(rereadings_before=2).joined().both_handed_in().compared(DIFFER), True),
        (Story().opened(rereadings_before=2).joined().both_handed_in().compared(DEVICE_WRONG), False),
    ],
)
def test_after_two_readings_again_a_third_person_must_look(told: Story, needed: bool) -> None:  # noqa: FBT001  # expected
    assert told.state().needs_help is needed


def test_a_next_reading_undoes_freezing_signing_and_clearance() -> None:
    state = Story().cleared().looked().next_reading("device").state()

    assert (state.frozen_digest, dict(state.signatures), state.cleared_at, state.last_looks, state.lapse) == (
        "",
        {},
        None,
        frozenset(),
        "",
    )


@pytest.mark.parametrize(
    ("touched", "due_again"),
    [
        (
            "label",
            {
                "syringe-seated",
                "size-matches",
                "label-visible",
                "cover-locked",
                "set-primed",
                "primed-volume",
                "shared-part-cleared",
                "drug-line-clamped",
                "right-patient",
                "connected",
                "traced",
                "clamp-opened",
                "key-secured",
            },
        ),
        ("device", {"size-matches", "totals-begin", "cover-locked", "key-secured"}),
        ("monitor", {"monitoring-on", "key-secured"}),
        ("order", {"key-secured"}),
        ("chart", {"key-secured"}),
        ("wristband", {"right-patient", "key-secured"}),
    ],
)
def test_a_source_that_was_touched_makes_its_steps_due_again(touched: str, due_again: set[str]) -> None:
    state = Story().cleared().next_reading(touched).state()
    assert state.plan is not None

    assert {step.id for step in state.plan.steps if not state.is_confirmed(step, "verified")} == due_again


def test_readings_that_differ_make_no_step_due_again() -> None:
    early = Story().opened().joined().confirmed(FIRST, "cover-locked").confirmed(SECOND, "cover-locked")

    assert len(early.both_handed_in().compared(DIFFER).next_reading().state().confirmations) == 2


def test_a_volume_that_does_not_stand_is_read_again() -> None:
    state = Story().found().primed(within=False).state()

    assert (state.priming_settled, state.priming_round, state.priming_handed_in) == (False, 2, frozenset())
    assert Story().found().primed(within=False).primed().state().priming_settled


def test_a_syringe_that_was_replaced_is_primed_anew() -> None:
    primed = Story().found(DEVICE_WRONG).primed().next_reading("label").state()
    not_primed = Story().found(DEVICE_WRONG).next_reading("label").state()

    assert (primed.priming_settled, primed.priming_round) == (False, 2)
    assert (not_primed.priming_settled, not_primed.priming_round) == (False, 1)
    assert primed.confirmations == ()


def test_a_new_observation_undoes_what_was_confirmed_about_the_one_before() -> None:
    seen = Story().found().observed().confirmed(FIRST, "baseline").confirmed(SECOND, "baseline")
    worse = seen.observed(below=True).state()

    assert worse.confirmations == ()
    assert worse.group == 1


def test_without_a_plan_no_step_is_due() -> None:
    story = Story()
    story.plan = None
    state = story.found(DEVICE_WRONG).observed().next_reading("device").state()

    assert (state.plan, state.group, state.steps_complete) == (None, 1, False)


def test_the_rule_set_aside_is_the_one_that_was_looked_at() -> None:
    other = a_finding("above-hard-limit", readings={"A.device": "40 mg", "B.device": "40 mg"})

    assert Story().found(RULE).excepted(RULE).read_again(other, touched=("device",)).state().open_stops == (
        other,
    )
    assert Story().found(RULE).excepted(RULE).read_again(RULE, touched=("order",)).state().open_stops == ()


@pytest.mark.parametrize("found", [DIFFER, DEVICE_WRONG])
def test_no_exception_sets_aside_what_is_no_rule(found: Found) -> None:
    assert Story().found(found).excepted(found).state().open_stops == (found,)


def test_clearance_lasts_the_sites_time_and_not_a_second_longer() -> None:
    assert Story().cleared().state(later=CLEARANCE).phase is Phase.CLEARED
    late = Story().cleared().state(later=CLEARANCE + timedelta(seconds=1))
    assert (late.phase, late.has_run_out) == (Phase.LAPSED, True)
    # Once somebody has written down why, there is nothing more to write.
    assert [each.state().has_run_out for each in (Story().cleared(), Story().cleared().lapsed())] == [
        False
    ] * 2
    # By a clock before the clearance nobody can tell what is left of it; a moment is two machines' clocks.
    assert Story().cleared().state(later=-timedelta(seconds=60)).phase is Phase.CLEARED
    assert Story().cleared().state(later=-timedelta(seconds=61)).phase is Phase.LAPSED
