"""A syringe that was replaced after the line had been primed from it."""

import json
from collections.abc import Callable
from dataclasses import replace

import pytest

from app.config import root
from app.records.events import Compared
from app.records.kept import FIRST, SECOND
from app.records.replaced import Replaced, find_replaced
from app.records.steps import (
    DEDICATED_LINE,
    EARLIER_PRIMED,
    NEW_SYRINGE,
    PART_USED,
    PERHAPS_REPLACED,
    REPLACED,
    REPLACED_PRIMED,
    WITH_CARRIER,
    Plan,
    plan_from,
)
from app.records.taken_back import IN_SYRINGE
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
def test_the_line_holds_the_old_drug_only_where_it_had_been_primed_from_it(case: str) -> None:
    told, replaced_in = TOLD[case]
    story = told(Story().found(DEVICE_WRONG))

    assert find_replaced(story.entries, whole_plan(), {}).primed == replaced_in


@pytest.mark.parametrize(
    ("told", "asked", "leaves"),
    [
        (Story().opened(), False, False),
        (Story().opened().joined().primed(), False, True),
        (Story().found(DEVICE_WRONG).confirmed(FIRST, "set-primed").next_reading("label"), False, True),
        (Story().opened(line_primed=True), True, True),
    ],
)
def test_a_primed_line_is_told_of_to_the_check_after_one_that_was_given_up(
    told: Story, *, asked: bool, leaves: bool
) -> None:
    found = find_replaced(told.entries, whole_plan(), {})

    assert (EARLIER_PRIMED in found.facts, found.leaves_line) == (asked, leaves)


TEN, THIRTY = ("drug", 10), ("drug", 30)
# Where the last entry tells it.
LAST = frozenset({0})
READ: dict[str, tuple[Callable[[Story], Story], dict[int, object], Replaced]] = {
    # One of the two had read the label wrong: the syringe is the same, and so is what the line holds.
    "read wrong by one": (
        lambda story: story.primed().next_reading(scope=(("label", ("concentration",)),)),
        {2: TEN},
        Replaced(),
    ),
    # Both read one thing, and later another: it is another syringe, whoever said so or not.
    "another after danger": (
        lambda story: story.primed().next_reading("device").voided("label"),
        {1: TEN, 3: THIRTY},
        Replaced(last=3, primed=3, unsaid=LAST),
    ),
    "another after any danger": (
        lambda story: story.primed().next_reading("device").voided(),
        {1: TEN, 3: THIRTY},
        Replaced(last=3, primed=3, unsaid=LAST),
    ),
    "another, not primed": (
        lambda story: story.next_reading("device").voided("label"),
        {1: TEN, 3: THIRTY},
        Replaced(last=3, unsaid=LAST),
    ),
    "another, primed from it": (
        lambda story: story.next_reading("device").voided("label").primed(),
        {1: TEN, 3: THIRTY},
        Replaced(last=3, unsaid=LAST),
    ),
    "another, and said so": (
        lambda story: story.primed().next_reading("label"),
        {1: TEN, 2: THIRTY},
        Replaced(last=2, primed=2),
    ),
    "another, where something else was read again": (
        lambda story: story.primed().next_reading("device"),
        {1: TEN, 2: THIRTY},
        Replaced(last=2, primed=2, unsaid=LAST),
    ),
    # Another of the same drug and strength reads like the one before.
    "read alike after danger": (
        lambda story: story.primed().voided("label"),
        {1: TEN, 2: TEN},
        Replaced(perhaps=2),
    ),
    "danger before anything was compared": (lambda story: story.voided(), {2: TEN}, Replaced(perhaps=2)),
    "danger elsewhere": (lambda story: story.voided("device"), {2: TEN}, Replaced()),
    "danger, and said so": (
        lambda story: story.voided("label").next_reading("label"),
        {3: TEN},
        Replaced(last=3),
    ),
}


@pytest.mark.parametrize("case", READ)
def test_what_was_said_and_read_tells_whether_the_syringe_was_replaced(case: str) -> None:
    told, contents, replaced = READ[case]
    story = told(Story().found(DEVICE_WRONG)).both_handed_in().compared()

    found = replace(find_replaced(story.entries, whole_plan(), contents), leaves_line=False)

    position = story.entries[-1].position
    assert found == replace(replaced, unsaid=frozenset({position}) if replaced.unsaid else frozenset())


def test_the_syringe_is_the_same_once_the_other_says_so_too() -> None:
    story = Story().found(DEVICE_WRONG).primed().voided("label").both_handed_in().compared()
    contents = {1: TEN, 2: TEN}

    by_one = find_replaced(story.confirmed(FIRST, "same-syringe").entries, whole_plan(), contents)
    by_both = find_replaced(story.confirmed(SECOND, "same-syringe").entries, whole_plan(), contents)

    assert (by_one.is_same, by_both.is_same) == (False, True)
    assert (by_one.to_write_of, by_both.to_write_of) == (2, None)


def test_what_was_taken_back_of_one_that_nobody_had_named_tells_it_at_its_own_place() -> None:
    story = Story().found(DEVICE_WRONG).primed().voided("label").taken_back("2 mL", number=2)
    written = {each.position for each in story.entries if each.event.kind == "drug-taken-back"}

    found = find_replaced(story.entries, whole_plan(), {1: TEN})

    assert found.unsaid
    assert found.unsaid <= written


@pytest.mark.parametrize(("apart", "told_in"), [(set[int](), {3}), ({3}, {4}), ({3, 4}, set[int]())])
def test_while_other_readings_differ_nobody_is_told_of_another_syringe(
    apart: set[int], told_in: set[int]
) -> None:
    story = Story().found(DEVICE_WRONG).primed().next_reading("device").voided("label").both_handed_in()
    story.compared().next_reading(scope=(("device", ("demand_dose",)),)).both_handed_in().compared()

    contents: dict[int, object] = {1: TEN, 3: THIRTY, 4: THIRTY}
    found = find_replaced(story.entries, whole_plan(), contents, apart)

    compared = {each.position: each.event for each in story.entries if isinstance(each.event, Compared)}
    assert {compared[each].round for each in found.unsaid} == told_in


def after_danger(told: Callable[[Story], Story]) -> Replaced:
    """Danger was seen in the label before anything was compared; then both read, and something was told."""
    plan = whole_plan()
    story = told(Story(plan=plan).opened().joined().confirmed(FIRST, "set-primed").voided("label"))
    return find_replaced(story.entries, plan, {2: TEN})


def test_what_is_written_of_the_one_before_tells_that_it_was_replaced() -> None:
    told = after_danger(lambda story: story.both_handed_in().compared().taken_back(held_in=IN_SYRINGE))
    assert (told.last, told.primed, told.perhaps, len(told.unsaid)) == (2, 2, None, 1)
    assert told.facts == (REPLACED, REPLACED_PRIMED)


def test_a_line_that_was_primed_after_it_holds_nothing_of_the_one_before() -> None:
    story = (
        Story().opened().joined().voided("label").confirmed(FIRST, "set-primed").both_handed_in().compared()
    )
    story.taken_back("0 mL")
    assert find_replaced(story.entries, whole_plan(), {2: TEN}).primed is None


def test_what_its_line_held_tells_that_one_was_primed_whoever_ticked_it() -> None:
    def primed(*volumes: str) -> int | None:
        story = Story().found(DEVICE_WRONG).next_reading("label")
        for volume in volumes:
            story.taken_back(volume)
        return find_replaced(story.entries, whole_plan(), {}).primed

    assert (primed(), primed("0 mL"), primed("2.3 mL")) == (None, None, 2)
    # What was written last counts.
    assert primed("2.3 mL", "0 mL") is None


def test_both_may_say_that_it_is_the_same_until_danger_is_seen_again() -> None:
    def same(story: Story) -> Story:
        story.both_handed_in().compared()
        return story.confirmed(FIRST, "same-syringe").confirmed(SECOND, "same-syringe")

    told = after_danger(same)
    assert (told.perhaps, told.is_same, told.facts) == (2, True, (PERHAPS_REPLACED,))
    assert told.to_write_of is None
    again = after_danger(lambda story: same(story).voided())
    assert (again.perhaps, again.is_same, again.to_write_of) == (3, False, 3)


def test_whoever_put_right_what_was_written_writes_of_the_same_syringe() -> None:
    story = Story(plan=whole_plan()).found(DEVICE_WRONG).next_reading("label").voided("label")
    story.both_handed_in().compared()
    assert find_replaced(story.entries, whole_plan(), {}).to_write_of == 3
    story.confirmed(FIRST, "same-syringe").confirmed(SECOND, "same-syringe")
    assert find_replaced(story.entries, whole_plan(), {}).to_write_of == 2


@pytest.mark.parametrize("name", [WITH_CARRIER, DEDICATED_LINE])
def test_what_is_asked_only_after_that_comes_before_priming(name: str) -> None:
    steps = whole_plan(name).steps
    ids = [step.id for step in steps]
    primes = next(step.id for step in steps if step.primes)

    asked = ["same-syringe", "old-syringe", "new-set", "earlier-set"]
    assert [each for each in ids[: ids.index(primes)] if each in asked] == asked
    assert [step for step in steps if not step.only_if] == list(whole_plan(name).where().steps)


def test_what_gives_way_to_a_part_used_syringe_does_so_whether_or_not_another_step_takes_its_place() -> None:
    """By a list in which none does checks were signed: they were complete."""
    whole = whole_plan(NEW_SYRINGE)
    own = replace(whole, steps=tuple(each for each in whole.steps if each.only_if != PART_USED))
    gone = {each.id for each in own.where().steps} - {each.id for each in own.where(PART_USED).steps}
    assert gone == {each.id for each in whole.steps if each.unless == PART_USED}
    assert (whole.asks_of(PART_USED), own.asks_of(PART_USED)) == (True, False)
    assert gone
