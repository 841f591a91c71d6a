"""A syringe change: the old one read before it is released, the new one read after it is loaded."""

from datetime import timedelta
from typing import Any

import pytest

from app.auditing.invariants import check_invariants
from app.judging.account import balanced
from app.records.course import Bar
from app.records.infusion import InfusionState
from app.records.kinds import SETTINGS_CHANGE, SYRINGE_CHANGE
from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import Phase
from app.records.steps import Plan
from app.site.loading import account_of, load_infusion
from app.workflow import opening, stepping, taking_back
from app.workflow.pausing import CheckComesFirst, Resumed
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA, RUTH, TOMAS
from tests.story.ward import Ward

# By hand: 27.7 mL were left after priming, and 8 doses of 1 mL each are 8 mL and 1.6 mg.
OLD = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
NEXT = changed(answers(), label={"lot": "LOT-8"}, totals=OLD)

NO_PLAN = Plan(name="", version="", steps=())


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))


def state_of(ward: Ward) -> InfusionState:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def entries_of(ward: Ward) -> list[dict[str, Any]]:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        return [dict(each.data) for each in account_of(reader, infusion).entries]


def opened(running: Ward) -> Ward:
    running.changes(SYRINGE_CHANGE)
    return running.does(NADIA, "paused", "parted", "old-read", "old-out").verifies(
        TOMAS, "paused", "parted", "old-read", "old-out"
    )


def test_the_old_syringe_is_read_first_and_no_order_is_read(running: Ward) -> None:
    state = running.changes(SYRINGE_CHANGE).state()

    assert state.current is not None
    assert [source for source, _ in state.current.scope] == [
        Source.TOTALS,
        Source.WRISTBAND,
        Source.LABEL,
        Source.DEVICE,
    ]


def test_it_goes_to_its_end_and_each_millilitre_is_accounted_for(running: Ward) -> None:
    opened(running).both_read(NEXT).compares()
    assert running.phase is Phase.STEPS, running.state().findings
    running.primes("0.3 mL").confirms_all().both_sign().both_look().starts()

    told = entries_of(running)
    kinds = [each["kind"] for each in told]
    assert kinds[:5] == ["issued", "loaded", "primed", "settings", "started"]
    assert kinds[5:] == ["paused", "removed", "issued", "loaded", "primed", "settings", "started"]
    removed, issued, _, primed = told[6:10]
    assert removed["left"] == "19.7 mL"
    assert removed["totals"] == {"amount": "1.6 mg", "presses": 9, "doses": 8}
    assert (issued["syringe"], primed["volume"]) == ("2", "0.3 mL")


def test_with_the_defaults_the_account_finds_nothing_in_it(running: Ward) -> None:
    opened(running).both_read(NEXT).compares()

    kept = running.loaded().last_comparison
    assert kept is not None
    account = kept.told["account"]["result"]
    assert [each["code"] for each in account["findings"] if each["severity"] == "stop"] == []


def test_volume_left_that_the_two_read_apart_is_read_again(running: Ward) -> None:
    other = changed(NEXT, totals={"left": "14.7 mL"})
    opened(running).both_read(NEXT, other).compares()
    found = running.found("readings-differ")

    assert (running.phase, found.field) == (Phase.DISPUTED, "totals.left")


def test_slack_is_no_priming_that_is_held_to_the_set(running: Ward) -> None:
    opened(running).primes("0.2 mL").both_read(NEXT).compares()

    assert running.state().priming_settled


def test_another_drug_is_a_stop_and_is_not_loaded(running: Ward) -> None:
    other = changed(NEXT, label={"drug": "morphine"}, device={"drug": "morphine"})
    opened(running).both_read(other).compares()

    assert ("label-differs", "drug") in {(each.code, each.field) for each in running.state().open_stops}
    running.reads_again(NADIA, "label").both_read(NEXT).compares()
    # What was loaded in the meantime is accounted for before anything starts.
    assert "old-syringe" in {step.id for step in (running.state().plan or NO_PLAN).steps}


def test_another_strength_asks_for_a_new_set_where_the_order_leaves_it_open(ward: Ward) -> None:
    states_none = {"strength": "states-none", "amount": None, "volume": None}
    first = changed(answers(), order=states_none)
    running = ward.opens().joins().both_read(first).compares()
    for code in {each.code for each in running.state().cautions}:
        running.acknowledges(NADIA, code).acknowledges(TOMAS, code)
    running.confirms_all().both_sign().both_look().starts().wait(timedelta(hours=4))
    half = {"amount": "3 mg"}
    opened(running).both_read(changed(NEXT, label=half, device=half, totals={"total_amount": "1.6 mg"}))
    running.compares()

    assert "other-strength" in {step.id for step in (running.state().plan or NO_PLAN).steps}


def test_the_same_strength_asks_for_none(running: Ward) -> None:
    opened(running).both_read(NEXT).compares()

    assert "other-strength" not in {step.id for step in (running.state().plan or NO_PLAN).steps}


def test_a_label_that_has_expired_on_what_runs_leads_to_it(running: Ward) -> None:
    running.re_checks().both_read(changed(answers(), label={"use_by": "2031-01-31"})).compares().leads_on()

    running.changes(SYRINGE_CHANGE)


def test_the_line_is_parted_before_the_old_syringe_is_said_to_be_off(running: Ward) -> None:
    running.changes(SYRINGE_CHANGE)
    said = running.taking_steps(NADIA, stepping.Given(done=("old-out",)))

    assert isinstance(said, stepping.Malformed)
    assert said.faults["step"].startswith("This comes first, or with it: Before the old syringe is released")


LATER = {"total_amount": "2.6 mg", "presses": "15", "doses": "13", "left": "24.7 mL"}
AGAIN = changed(answers(), label={"comes_as": "part-used", "part_left": "19.7 mL"}, totals=LATER)


def back_to_the_first(running: Ward, read: Answers = AGAIN) -> Ward:
    """The second syringe ran for four hours, and the first is loaded again."""
    opened(running).both_read(NEXT).compares()
    running.primes("0.3 mL").confirms_all().both_sign().both_look().starts().wait(timedelta(hours=4))
    return opened(running).both_read(read).compares()


def steps_of(ward: Ward) -> set[str]:
    return {step.id for step in (ward.state().plan or NO_PLAN).steps}


def test_a_part_used_syringe_is_loaded_again_and_each_millilitre_is_accounted_for(running: Ward) -> None:
    back_to_the_first(running)
    assert {"syringe-seated", "part-used-seated"} & steps_of(running) == {"part-used-seated"}
    running.primes("0.2 mL").confirms_all().both_sign().both_look().starts()

    told = entries_of(running)
    assert [(each["kind"], each.get("syringe")) for each in told[13:]] == [
        ("removed", None),
        ("loaded", "1"),
        ("primed", None),
        ("settings", None),
        ("started", None),
    ]
    # Counted once more in SQL it is the same.
    assert check_invariants(running.site, running.now) == ()
    # By hand: of 19.7 mL, 0.2 ran out as slack and 3 doses of 1 mL were given; then all of both goes.
    final = {"total_amount": "3.2 mg", "presses": "18", "doses": "16", "left": "16.5 mL"}
    running.wait(timedelta(hours=2)).ends().both_read(changed(answers(), totals=final)).compares()
    running.does(NADIA, "ended-off-the-patient").verifies(TOMAS, "ended-off-the-patient")
    for volume, lot in (("16.5 mL", "LOT-7"), ("24.7 mL", "LOT-8")):
        said = running.taking_back(NADIA, RUTH, given={"in_syringe": volume, "lot": lot})
        assert isinstance(said, taking_back.Written), said
    infusion = running.state().check.infusion
    running.confirms_all().both_sign()

    assert running.phase is Phase.DONE, running.phase
    assert check_invariants(running.site, running.now) == ()
    with running.site.store.read() as reader:
        account = account_of(reader, infusion)
    result = balanced(account.written(), {})
    # 2.4 mL had filled the line: of the first, 0.1 mL more was read than was left.
    assert [each["volume"]["difference"]["exact"] for each in result["syringes"]] == ["-0.1", "0"]


def test_one_that_is_not_as_it_was_left_is_signed_as_open(running: Ward) -> None:
    back_to_the_first(running, changed(AGAIN, label={"part_left": "15 mL"}))

    (found,) = (each for each in running.state().findings if each.severity == "stop")
    assert (found.code, running.phase) == ("part-used-volume-differs", Phase.STEPS)
    running.primes("0.2 mL").confirms_all().both_sign().both_look().starts()
    assert running.loaded().infusion.left_open is not None


def test_one_of_another_infusion_is_put_right_before_anything_starts(running: Ward) -> None:
    back_to_the_first(running, changed(AGAIN, label={"lot": "LOT-9"}))

    assert {each.code for each in running.state().open_stops} == {"part-used-not-of-this"}
    new = changed(NEXT, label={"lot": "LOT-9"}, totals=LATER)
    running.reads_again(NADIA, "label").both_read(new).compares()
    assert running.state().open_stops == ()
    assert "syringe-seated" in steps_of(running)


def test_given_up_with_the_old_syringe_out_nobody_lets_the_line_run_on_alone(running: Ward) -> None:
    """Whichever syringe hangs there now: the look at the device shows nothing of its label."""
    opened(running).both_read(changed(NEXT, label={"drug": "hydromorphone"})).compares().abandons()
    assert state_of(running).led_to == "syringe-change"
    assert running.resuming_line(IMOGEN, running.a_look()) == CheckComesFirst()
    # Stopped in between, too, it is the change of the syringe that comes first.
    running.stops()
    assert running.opening_on(IMOGEN, SETTINGS_CHANGE) == opening.Barred(
        bar=Bar.LED_ELSEWHERE, led_to="syringe-change"
    )
    assert running.phase is Phase.ABANDONED
    assert check_invariants(running.site, running.now) == ()

    again = running.changes(SYRINGE_CHANGE).both_read(NEXT).compares()
    again.primes("0.3 mL").confirms_all().both_sign().both_look().starts()
    assert (state_of(running).led_to, state_of(running).is_running) == ("", True)


def test_given_up_before_the_line_is_off_the_patient_it_runs_on(running: Ward) -> None:
    running.changes(SYRINGE_CHANGE).does(NADIA, "paused").abandons()
    assert running.resuming_line(IMOGEN, running.a_look()) == Resumed()


def test_ended_by_whoever_was_asked_for_help_it_leaves_the_same(running: Ward) -> None:
    opened(running).asks_for_help()
    running.taking_help(RUTH)
    running.settling_help(RUTH, "abandon")
    assert running.phase is Phase.ABANDONED
    assert state_of(running).led_to == "syringe-change"
