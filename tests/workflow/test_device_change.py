"""Another device or line, and totals that are cleared: read by both before, and from zero on after."""

from datetime import timedelta
from typing import Any

import pytest

from app.accounting import balance, read_account
from app.comparison import CaseError
from app.judging.account import account_case
from app.records.kinds import CLEARING, DEVICE_CHANGE, Kind
from app.records.state import Phase
from app.site.loading import account_of
from tests.factories.answers import answers, changed
from tests.story.people import NADIA, TOMAS
from tests.story.ward import Ward

# By hand: 27.7 mL were left after priming, and 8 doses of 1 mL each are 8 mL and 1.6 mg.
OLD = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
READ = changed(answers(), totals=OLD)
DEAD = changed(
    answers(), totals={"total_amount": "none", "presses": "none", "doses": "none", "left": "19.7 mL"}
)
ZERO = {"amount": "0 mg", "volume": "0 mL", "presses": 0, "doses": 0}


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))


def account(ward: Ward) -> list[dict[str, Any]]:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        return [dict(each) for each in account_of(reader, infusion).written()]


def stops_in(entries: list[dict[str, Any]]) -> list[str]:
    case = read_account(account_case(entries, {}))
    assert not isinstance(case, CaseError), case
    return [each["code"] for each in balance(case).as_json()["findings"] if each["severity"] == "stop"]


def done(running: Ward, kind: Kind, read: Any, *early: str) -> list[dict[str, Any]]:  # noqa: ANN401  # answers
    running.changes(kind).does(NADIA, *early).verifies(TOMAS, *early)
    running.both_read(read).compares()
    assert running.phase is Phase.STEPS, running.state().findings
    running.confirms_all().both_sign().both_look().starts()
    return account(running)


def test_another_device_begins_a_new_series_of_totals(running: Ward) -> None:
    entries = done(
        running, DEVICE_CHANGE, READ, "paused-for-device", "parted-for-device", "old-device-read", "new-zero"
    )

    assert [each["kind"] for each in entries[5:]] == [
        "paused",
        "read",
        "device",
        "primed",
        "settings",
        "started",
    ]
    assert entries[7]["totals"] == {"amount": "1.6 mg", "presses": 9, "doses": 8}
    assert entries[7]["after"] == ZERO
    assert stops_in(entries) == []


def test_a_device_that_shows_nothing_any_more_leaves_its_syringe_uncounted(running: Ward) -> None:
    entries = done(running, DEVICE_CHANGE, DEAD, "paused-for-device", "parted-for-device", "old-device-read")

    assert entries[6]["left"] == "19.7 mL"
    assert "totals" not in entries[7]
    assert "reading-missing" in stops_in(entries)


def test_it_takes_the_steps_of_a_set_up_and_its_own(running: Ward) -> None:
    plan = running.changes(DEVICE_CHANGE).both_read(READ).compares().state().plan

    assert plan is not None
    steps = [step.id for step in plan.steps]
    # A carrier was ordered when it was set up.
    assert plan.name == "with-carrier"
    assert {"old-device-read", "new-zero", "set-primed", "right-patient", "traced", "clamp-opened"} <= {
        *steps
    }
    assert steps.index("parted-for-device") < steps.index("syringe-seated") < steps.index("set-primed")


def test_totals_that_are_cleared_are_read_by_both_before(running: Ward) -> None:
    entries = done(running, CLEARING, READ, "paused", "cleared-to-zero")

    assert [each["kind"] for each in entries[5:]] == ["paused", "read", "cleared", "settings", "started"]
    assert entries[7]["after"] == ZERO
    assert stops_in(entries) == []


def test_no_set_up_asks_for_steps_of_another_device(ward: Ward) -> None:
    plan = ward.at_stage(Phase.STEPS).state().plan

    assert plan is not None
    assert not {"paused-for-device", "new-zero"} & {step.id for step in plan.steps}
