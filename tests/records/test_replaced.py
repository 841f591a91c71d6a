"""A syringe that was replaced after the line had been primed from it."""

import json
from collections.abc import Callable

import pytest

from app.config import root
from app.records.kept import FIRST
from app.records.replaced import find_replaced
from app.records.steps import DEDICATED_LINE, WITH_CARRIER, Plan, plan_from
from tests.factories.findings import DEVICE_WRONG
from tests.story.events import Story


def whole_plan(name: str = WITH_CARRIER) -> Plan:
    return plan_from(json.loads((root() / "seed_data" / "safety_steps.json").read_text("utf-8")), name)


TOLD: dict[str, tuple[Callable[[Story], Story], int | None]] = {
    "not replaced": (lambda story: story, None),
    "not primed": (lambda story: story.next_reading("label"), None),
    "seated alone": (lambda story: story.confirmed(FIRST, "cover-locked").next_reading("label"), None),
    "primed": (lambda story: story.confirmed(FIRST, "set-primed").next_reading("label"), 2),
    "volume read": (lambda story: story.primed().next_reading("label"), 2),
    "only the device": (lambda story: story.primed().next_reading("device"), None),
    "both": (lambda story: story.primed().next_reading("device", "label"), 2),
    # Before it was primed anew the line holds what it held.
    "replaced twice": (lambda story: story.primed().next_reading("label").next_reading("label"), 2),
    "primed twice": (lambda story: story.primed().next_reading("label").primed().next_reading("label"), 3),
}


@pytest.mark.parametrize("case", TOLD)
def test_it_is_replaced_after_priming_or_it_does_not_matter(case: str) -> None:
    told, replaced_in = TOLD[case]
    story = told(Story().found(DEVICE_WRONG))

    assert find_replaced(story.entries, whole_plan(), {}).last == replaced_in


TEN, THIRTY = ("drug", 10), ("drug", 30)
READ: dict[str, tuple[Callable[[Story], Story], dict[int, object], set[int]]] = {
    # One of the two had read the label wrong: the syringe is the same, and so is what the line holds.
    "read wrong by one": (
        lambda story: story.primed().next_reading(scope=(("label", ("concentration",)),)),
        {2: TEN},
        set(),
    ),
    "read alike again": (lambda story: story.primed().voided("label"), {1: TEN, 2: TEN}, set()),
    # Both read one thing, and later another: it is another syringe, whoever said so or not.
    "another after danger": (
        lambda story: story.primed().next_reading("device").voided("label"),
        {1: TEN, 3: THIRTY},
        {3},
    ),
    "another after any danger": (
        lambda story: story.primed().next_reading("device").voided(),
        {1: TEN, 3: THIRTY},
        {3},
    ),
    "another, not primed": (
        lambda story: story.next_reading("device").voided("label"),
        {1: TEN, 3: THIRTY},
        set(),
    ),
    "another, primed from it": (
        lambda story: story.next_reading("device").voided("label").primed(),
        {1: TEN, 3: THIRTY},
        set(),
    ),
    "another, and said so": (
        lambda story: story.primed().next_reading("label"),
        {1: TEN, 2: THIRTY},
        set(),
    ),
}


@pytest.mark.parametrize(("apart", "told_in"), [(set[int](), {3}), ({3}, {4}), ({3, 4}, set[int]())])
def test_while_other_readings_differ_nobody_is_told_of_another_syringe(
    apart: set[int], told_in: set[int]
) -> None:
    story = Story().found(DEVICE_WRONG).primed().next_reading("device").voided("label").both_handed_in()
    story.compared().next_reading(scope=(("device", ("demand_dose",)),)).both_handed_in().compared()

    contents: dict[int, object] = {1: TEN, 3: THIRTY, 4: THIRTY}

    assert find_replaced(story.entries, whole_plan(), contents, apart).unsaid == told_in


@pytest.mark.parametrize("case", READ)
def test_a_label_read_wrong_asks_for_nothing_and_another_syringe_for_a_new_set(case: str) -> None:
    told, contents, unsaid = READ[case]
    story = told(Story().found(DEVICE_WRONG)).both_handed_in().compared()

    found = find_replaced(story.entries, whole_plan(), contents)

    assert found.unsaid == unsaid
    assert found.last == (max(unsaid) if unsaid else {"another, and said so": 2}.get(case))


@pytest.mark.parametrize("name", [WITH_CARRIER, DEDICATED_LINE])
def test_a_new_set_is_a_step_only_after_that_and_comes_before_priming(name: str) -> None:
    ids = [step.id for step in whole_plan(name).steps]
    primes = next(step.id for step in whole_plan(name).steps if step.primes)

    assert ids.index("new-set") < ids.index(primes)
    assert [each for each in ids if each != "new-set"] == [
        step.id for step in whole_plan(name).of_one_syringe().steps
    ]
