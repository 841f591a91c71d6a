"""Who did a step is what the two say: whoever did it says so, the other verifies, and nothing is guessed."""

import json

import pytest

from app.records.state import Phase
from app.records.steps import DONE, VERIFIED, Step
from app.workflow import stepping
from tests.story.people import NADIA, TOMAS, Somebody
from tests.story.ward import Ward

TAKEN = stepping.Taken(complete=False)
PRIMED, CONNECTED = "set-primed", "connected"


def step_named(ward: Ward, name: str) -> Step:
    plan = ward.state().plan
    assert plan is not None
    return next(each for each in plan.steps if each.id == name)


def doer(ward: Ward, name: str) -> int | None:
    return ward.state().find_doer(step_named(ward, name))


def stands(ward: Ward, name: str, part: str) -> bool:
    return ward.state().is_confirmed(step_named(ward, name), part)


@pytest.mark.parametrize(("one", "other", "slot"), [(NADIA, TOMAS, 1), (TOMAS, NADIA, 2)])
def test_either_may_have_done_it_and_the_other_verifies(
    one_ward: Ward, one: Somebody, other: Somebody, slot: int
) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.doing(one, PRIMED) == TAKEN
    assert doer(one_ward, PRIMED) == slot
    assert one_ward.verifying(one, PRIMED) == stepping.OutOfTurn()
    assert not stands(one_ward, PRIMED, VERIFIED)
    assert one_ward.verifying(other, PRIMED) == TAKEN
    assert stands(one_ward, PRIMED, VERIFIED)


def test_one_may_prime_and_the_other_connect_and_the_record_says_who_did_which(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).does(TOMAS, PRIMED).verifies(NADIA, PRIMED).confirms_all().both_sign()

    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    steps = {each["id"]: each for each in json.loads(frozen.document)["safety_steps"]["steps"]}
    credited = {
        name: (steps[name]["done"]["clinician"], steps[name]["verified"]["clinician"])
        for name in (PRIMED, CONNECTED)
    }
    assert credited == {PRIMED: ("B", "A"), CONNECTED: ("A", "B")}


def test_that_the_other_did_it_waits_for_the_others_own_word(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.naming(NADIA, PRIMED) == TAKEN
    assert doer(one_ward, PRIMED) is None
    assert one_ward.verifying(NADIA, PRIMED) == stepping.OutOfTurn()
    assert one_ward.doing(TOMAS, PRIMED) == TAKEN
    assert doer(one_ward, PRIMED) == 2
    assert one_ward.verifying(NADIA, PRIMED) == TAKEN


def test_when_both_say_they_did_it_nothing_stands_until_one_says_otherwise(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).does(NADIA, PRIMED).does(TOMAS, PRIMED)

    assert one_ward.state().is_contradicted(step_named(one_ward, PRIMED))
    assert not stands(one_ward, PRIMED, DONE)
    for who in (NADIA, TOMAS):
        assert one_ward.verifying(who, PRIMED) == stepping.OutOfTurn()
    assert one_ward.naming(NADIA, PRIMED) == TAKEN
    assert not one_ward.state().is_contradicted(step_named(one_ward, PRIMED))
    assert doer(one_ward, PRIMED) == 2


def test_when_each_names_the_other_nothing_stands_until_one_says_otherwise(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    for who in (NADIA, TOMAS):
        assert one_ward.naming(who, PRIMED) == TAKEN

    assert one_ward.state().is_contradicted(step_named(one_ward, PRIMED))
    assert doer(one_ward, PRIMED) is None
    assert one_ward.doing(NADIA, PRIMED) == TAKEN
    assert doer(one_ward, PRIMED) == 1


def test_what_is_verified_is_not_told_otherwise(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).does(NADIA, PRIMED).verifies(TOMAS, PRIMED)
    before = one_ward.state().last_position

    assert one_ward.doing(TOMAS, PRIMED) == stepping.OutOfTurn()
    assert one_ward.naming(NADIA, PRIMED) == stepping.OutOfTurn()
    assert one_ward.doing(NADIA, PRIMED) == TAKEN, "the same said again does no harm"
    assert one_ward.state().last_position == before


def test_nobody_says_both_of_one_step(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    said = one_ward.taking_steps(NADIA, stepping.Given(done=(PRIMED,), named=(PRIMED,)))

    assert said == stepping.OutOfTurn()


def test_nobody_who_has_not_joined_has_done_anything(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.OPENED)

    assert one_ward.naming(NADIA, PRIMED) == stepping.OutOfTurn()
    assert one_ward.doing(NADIA, PRIMED) == TAKEN
