"""What a kind that changes something is told beside its findings: by how much, and which steps it takes."""

from dataclasses import replace

import pytest

from app.judging.judge import Against, Read, judge
from app.judging.rounds import against
from app.records.kinds import DEVICE_CHANGE, RE_CHECK, SET_UP, SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.records.known import NOTHING_KNOWN, Known
from tests.factories.answers import answers, changed
from tests.judging.test_rounds import RULES
from tests.story.events import BEGAN

IN_FORCE = Known(
    previous={
        "concentration": "0.2 mg/mL",
        "mode": "demand",
        "demand_dose": "0.2 mg",
        "lockout": "10 min",
        "limit": {"amount": "2 mg", "window": "4 h"},
        "loading_dose": None,
    }
)
HIGHER = {"demand_dose": "0.3 mg"}


def judged_of(kind: Kind, known: Known) -> tuple[dict[str, str], str]:
    read = Read(answers=changed(answers(), order=HIGHER, device=HIGHER), at=BEGAN)
    made = judge(kind, read, read, known=known, rules=Against(policy={}, library={}))
    factors = {each["what"]: each["factor"]["exact"] for each in made.changed if each["factor"]}
    return factors, made.plan


def test_of_what_changes_it_is_said_by_how_much() -> None:
    factors, _ = judged_of(SETTINGS_CHANGE, IN_FORCE)

    # By hand: 0.3 mg is 1.5 times 0.2 mg; 6 of them are 1.8 mg, 10 of the others 2 mg in 4 h.
    assert factors == {"demand_dose": "1.5", "lockout": "1", "hour": "1.5", "four_hours": "0.9", "day": "0.9"}


@pytest.mark.parametrize(("kind", "known"), [(RE_CHECK, IN_FORCE), (SETTINGS_CHANGE, NOTHING_KNOWN)])
def test_of_what_changes_nothing_or_begins_from_nothing_known_nothing_is_said(
    kind: Kind, known: Known
) -> None:
    assert judged_of(kind, known)[0] == {}


@pytest.mark.parametrize(
    ("kind", "order", "plan"),
    [
        (SET_UP, {}, "with-carrier"),
        (SETTINGS_CHANGE, {}, "new-settings"),
        (SYRINGE_CHANGE, {}, "new-syringe"),
        # No order is read: the one of record says whether a carrier runs.
        (DEVICE_CHANGE, {"carrier": {"fluid": "sodium chloride 0.9%"}}, "with-carrier"),
        (DEVICE_CHANGE, {}, "dedicated-line"),
    ],
)
def test_the_steps_are_those_of_the_kind_and_of_the_order(
    kind: Kind, order: dict[str, object], plan: str
) -> None:
    assert judged_of(kind, replace(IN_FORCE, order_of_record=order))[1] == plan


def test_what_was_primed_before_takes_up_slack_and_is_not_held_to_the_set() -> None:
    assert "prime_volume" in against(RULES, SET_UP, answers()).policy
    assert "prime_volume" not in against(RULES, SYRINGE_CHANGE, answers()).policy
