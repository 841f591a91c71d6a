"""The safety steps as published, and what a list of steps must be to bring a check to its end."""

import json
from typing import Any

import pytest

from app.config import root
from app.records.events import HandedIn, StepsConfirmed
from app.records.kept import FIRST, PRIMING, SECOND
from app.records.kinds import END_OF_PCA, KINDS, Kind
from app.records.sources import CAN_BE_PUT_RIGHT, Source
from app.records.state import CheckState
from app.records.steps import (
    BASELINE,
    DEDICATED_LINE,
    DIFFERS,
    DONE,
    NAMED,
    NEW_SYRINGE,
    OFF_THE_PATIENT,
    PART_USED,
    PATIENT,
    PRIMED_VOLUME,
    REPLACED,
    REPLACED_PRIMED,
    TAKEN_BACK,
    VERIFIED,
    WITH_CARRIER,
    Plan,
    plan_faults,
    plan_from,
    plan_name,
)
from tests.story.events import Story, the_plan

PLANS = (WITH_CARRIER, DEDICATED_LINE)
OF_KINDS = [(kind, name) for kind in KINDS.values() for name in kind.plans]


def published() -> dict[str, Any]:
    return dict(json.loads((root() / "seed_data" / "safety_steps.json").read_text(encoding="utf-8")))


@pytest.mark.parametrize(("kind", "name"), OF_KINDS)
def test_the_published_plans_bring_every_check_to_its_end(kind: Kind, name: str) -> None:
    plan = plan_from(published(), name)

    faults = plan_faults(plan, kind.entries, put_right=kind.put_right, of_remainder=kind.ends)

    assert list(faults) == []


def test_what_is_left_at_the_end_is_asked_where_no_syringe_was_replaced() -> None:
    plan = plan_from(published(), OFF_THE_PATIENT)

    assert list(plan_faults(plan, END_OF_PCA.entries, put_right=END_OF_PCA.put_right)) == [
        "the step ended-remainder is asked where no syringe was replaced"
    ]


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("source", CAN_BE_PUT_RIGHT)
def test_every_source_that_is_put_right_makes_a_step_due_again(name: str, source: Source) -> None:
    # Otherwise nothing would be left to confirm, and a later edition of the record would never be frozen.
    assert [step.id for step in the_plan(name).steps if source.value in step.again_after] != []


def test_every_step_has_a_name_of_its_own_and_says_what_to_do_and_what_to_verify() -> None:
    steps = published()["steps"]
    names = [each["id"] for each in steps]

    assert len(set(names)) == len(names)
    plans = {name for _, name in OF_KINDS}
    assert all(each["do"] and each["verify"] and set(each["plans"]) <= plans for each in steps)


@pytest.mark.parametrize("name", PLANS)
def test_only_steps_of_the_first_group_may_come_early(name: str) -> None:
    assert {step.group for step in the_plan(name).early()} == {1}


@pytest.mark.parametrize("name", PLANS)
def test_the_baseline_is_observed_the_primed_volume_read_and_then_who_the_patient_is(name: str) -> None:
    entries = [step.entry for step in the_plan(name).steps if step.entry]

    assert entries == [BASELINE, PRIMED_VOLUME, PATIENT]


@pytest.mark.parametrize("name", PLANS)
def test_every_group_has_a_name(name: str) -> None:
    plan = plan_from(published(), name)
    assert set(plan.group_names) == set(plan.groups)
    assert all(plan.group_names.values())
    # A list that a site published without names is read all the same.
    assert plan_from({**published(), "groups": {}}, name).group_names == {}


# In the order in which they are done; common practice, no source but the list that this site publishes.
IN_ORDER = {
    (WITH_CARRIER, 1): """
        baseline syringe-seated size-matches totals-begin label-visible cover-locked set-primed primed-volume
        shared-part-cleared
    """,
    (WITH_CARRIER, 2): """
        anti-reflux anti-siphon drug-line-clamped site-patent monitoring-on rescue-at-hand right-patient
        connected traced
    """,
    (WITH_CARRIER, 3): "clamp-opened button-understood only-the-patient key-secured",
    (DEDICATED_LINE, 1): """
        baseline syringe-seated size-matches totals-begin label-visible cover-locked set-primed-own-line
        primed-volume
    """,
    (DEDICATED_LINE, 2): """
        anti-siphon drug-line-clamped site-patent monitoring-on rescue-at-hand right-patient
        connected-own-line traced
    """,
    (DEDICATED_LINE, 3): "clamp-opened-own-line button-understood only-the-patient key-secured",
}


@pytest.mark.parametrize(("name", "group"), IN_ORDER)
def test_the_two_plans(name: str, group: int) -> None:
    assert [step.id for step in the_plan(name).in_group(group)] == IN_ORDER[name, group].split()


@pytest.mark.parametrize("name", PLANS)
def test_priming_comes_before_connecting(name: str) -> None:
    ids = [step.id for step in the_plan(name).steps]
    primed = next(place for place, each in enumerate(ids) if each.startswith("set-primed"))
    connected = next(place for place, each in enumerate(ids) if each.startswith("connected"))

    assert primed < connected


@pytest.mark.parametrize("name", PLANS)
def test_connecting_waits_for_the_wristband(name: str) -> None:
    plan = the_plan(name)
    waiting = {step.id: before.id for step in plan.steps if (before := plan.find_before(step))}

    connecting = "connected" if name == WITH_CARRIER else "connected-own-line"
    assert waiting == {connecting: "right-patient"}


@pytest.mark.parametrize("name", PLANS)
def test_the_line_is_traced_after_it_was_connected(name: str) -> None:
    plan = the_plan(name)
    after = {step.id: [each.id for each in plan.what_comes_before(step)] for step in plan.steps}

    connecting = "connected" if name == WITH_CARRIER else "connected-own-line"
    assert {step: before for step, before in after.items() if before} == {"traced": [connecting]}


@pytest.mark.parametrize(
    ("order", "name"),
    [
        ({"carrier_fluid": "sodium chloride 0.9%"}, WITH_CARRIER),
        ({"carrier_fluid": "none"}, DEDICATED_LINE),
        ({}, DEDICATED_LINE),
    ],
)
def test_the_order_says_which_plan(order: dict[str, str], name: str) -> None:
    assert plan_name(order) == name


# ---------------------------------------------------------------------------------------------------------
# Plans that would strand a check


def a_step(name: str, **more: object) -> dict[str, object]:
    return {"id": name, "group": 1, "plans": [WITH_CARRIER], "do": "d", "verify": "v", **more}


EVERY_SOURCE = [source.value for source in Source]


def a_plan(*steps: dict[str, object]) -> Plan:
    return plan_from({"version": "1", "steps": steps}, WITH_CARRIER)


@pytest.mark.parametrize(
    ("plan", "faults"),
    [
        (a_plan(), ["there are no steps"]),
        (a_plan(a_step("a", again_after=EVERY_SOURCE)), []),
        (a_plan(a_step("a", again_after=EVERY_SOURCE), a_step("a")), ["the step a stands twice"]),
        (
            a_plan(a_step("a", group=2, again_after=EVERY_SOURCE), a_step("b", group=1)),
            ["the groups are not in order"],
        ),
        (
            a_plan(a_step("a", again_after=EVERY_SOURCE), a_step("b", group=2, before_agreement=True)),
            ["the step b may be confirmed early and is not in the first group"],
        ),
        (
            a_plan(a_step("a", again_after=[each for each in EVERY_SOURCE if each != "order"])),
            ["no step is due again after order"],
        ),
        (
            a_plan(a_step("a", only_if="raining", again_after=EVERY_SOURCE)),
            ["the step a is asked only if raining, of which nothing is known"],
        ),
    ],
)
def test_a_plan_that_would_strand_a_check_is_named(plan: Plan, faults: list[str]) -> None:
    assert list(plan_faults(plan)) == faults


@pytest.mark.parametrize(
    ("read", "faults"),
    [
        ([a_step("a", entry=PATIENT, before=["b"]), a_step("b")], []),
        (
            [a_step("a", entry=PATIENT), a_step("b")],
            ["the step a comes before no step that waits for it"],
        ),
        (
            [a_step("b"), a_step("a", entry=PATIENT, before=["b"])],
            ["the step a comes before no step that waits for it"],
        ),
        (
            [a_step("a", entry=PATIENT, before=["b"], before_agreement=True), a_step("b")],
            ["the step a may be confirmed early, when no patient is agreed on"],
        ),
    ],
)
def test_the_wristband_is_read_once_it_is_agreed_on_and_before_something(
    read: list[dict[str, object]], faults: list[str]
) -> None:
    plan = a_plan(*read, a_step("z", again_after=EVERY_SOURCE))

    assert list(plan_faults(plan, (PATIENT,))) == faults


@pytest.mark.parametrize(
    ("steps", "faults"),
    [
        ([a_step("a"), a_step("b", after=["a", "of-the-other-plan"])], []),
        ([a_step("b", after=["a"]), a_step("a")], ["the step b comes after no step that stands before it"]),
        ([a_step("b", after=["nothing"])], ["the step b comes after no step that stands before it"]),
    ],
)
def test_what_a_step_comes_after_stands_before_it(steps: list[dict[str, object]], faults: list[str]) -> None:
    assert list(plan_faults(a_plan(*steps, a_step("z", again_after=EVERY_SOURCE)))) == faults


@pytest.mark.parametrize(
    ("entries", "faults"),
    [
        ([BASELINE, PRIMED_VOLUME], []),
        ([PRIMED_VOLUME], ["no step writes down the baseline"]),
        ([BASELINE, PRIMED_VOLUME, BASELINE], ["more than one step writes down the baseline"]),
        (
            [BASELINE, PRIMED_VOLUME, "weight"],
            ["the step own-2 writes down weight, of which nothing is known"],
        ),
    ],
)
def test_each_needed_entry_is_written_down_by_exactly_one_step(entries: list[str], faults: list[str]) -> None:
    named = [a_step(f"own-{at}", entry=each, again_after=EVERY_SOURCE) for at, each in enumerate(entries)]

    assert list(plan_faults(a_plan(*named), (BASELINE, PRIMED_VOLUME))) == faults


def test_what_was_taken_back_is_asked_only_where_a_syringe_was_replaced() -> None:
    def faults(only_if: str) -> list[str]:
        step = a_step("a", entry=TAKEN_BACK, only_if=only_if, again_after=EVERY_SOURCE)
        return list(plan_faults(a_plan(step), (TAKEN_BACK,)))

    assert faults(REPLACED) == []
    assert faults("") == faults(REPLACED_PRIMED) == ["the step a is asked where no syringe was replaced"]


# ---------------------------------------------------------------------------------------------------------
# Group by group


def test_a_group_opens_when_every_step_of_the_one_before_is_verified() -> None:
    story = Story().found()
    first = [step.id for step in the_plan().in_group(1) if step.entry != PRIMED_VOLUME]

    assert story.state().group == 1
    assert story.confirmed(FIRST, *first).confirmed(SECOND, *first[1:]).primed().state().group == 1
    assert story.confirmed(SECOND, first[0]).state().group == 2
    assert not story.state().steps_complete
    assert story.steps_confirmed(2, 3).state().group == 4
    assert story.state().steps_complete


def test_what_is_done_is_not_yet_verified() -> None:
    state = Story().found().confirmed(FIRST, "cover-locked").state()
    step = next(each for each in the_plan().steps if each.id == "cover-locked")

    assert state.is_confirmed(step, DONE)
    assert not state.is_confirmed(step, VERIFIED)


def test_the_primed_volume_stands_when_both_readings_of_it_agree() -> None:
    step = next(each for each in the_plan().steps if each.entry == PRIMED_VOLUME)

    assert (
        not Story()
        .found()
        .confirmed(FIRST, step.id)
        .confirmed(SECOND, step.id)
        .state()
        .is_confirmed(step, DONE)
    )
    assert Story().found().primed().state().is_confirmed(step, VERIFIED)


def test_what_was_said_of_a_primed_volume_falls_with_another_that_is_read() -> None:
    step = next(each for each in the_plan().steps if each.entry == PRIMED_VOLUME)
    told = Story().found().primed()
    assert {each.slot for each in told.state().confirmations if each.step == step.id} == {FIRST, SECOND}

    again = told.tell(HandedIn(subject=PRIMING, round=2, slot=FIRST, commitment="c")).state()
    assert [each for each in again.confirmations if each.step == step.id] == []


def test_two_who_say_different_things_of_a_step_contradict_each_other() -> None:
    step = next(each for each in the_plan().steps if each.id == "cover-locked")

    def told(first: str, second: str) -> CheckState:
        story = Story().found()
        for slot, part in ((FIRST, first), (SECOND, second)):
            story.tell(StepsConfirmed(slot=slot, group=step.group, part=part, steps=(step.id,)))
        return story.state()

    assert told(DONE, DONE).is_contradicted(step)
    assert told(NAMED, NAMED).is_contradicted(step)
    for agreed in ((DONE, VERIFIED), (DONE, NAMED), (NAMED, DONE)):
        assert not told(*agreed).is_contradicted(step)


def test_another_patient_at_the_bed_is_told_until_the_wristband_agrees() -> None:
    step = next(each for each in the_plan().steps if each.entry == PATIENT)
    story = Story().found()
    assert not story.state().patient_differs

    told = StepsConfirmed(slot=FIRST, group=step.group, part=DIFFERS, steps=(step.id,))
    assert story.tell(told).state().patient_differs


def test_a_seal_is_asked_of_a_new_syringe_alone() -> None:
    new, part_used = (
        {step.id for step in the_plan(NEW_SYRINGE, *facts).steps} for facts in ((), (PART_USED,))
    )

    assert (new - part_used, part_used - new) == ({"syringe-seated"}, {"part-used-seated"})
