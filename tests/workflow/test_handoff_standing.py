"""What was stopped, is held or away is handed over as it stands: nothing is started by it."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.records.course import Bar
from app.records.events import END_OF_THERAPY
from app.records.kinds import HANDOFF, HANDOFF_STANDING
from app.records.state import Phase
from app.workflow import answering, opening
from app.workflow import emergencies as hurry
from app.workflow.emergencies import Sealed
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA, RUTH, TOMAS
from tests.story.ward import Ward

TOTALS = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}


@pytest.fixture(autouse=True)
def holds(one_ward: Ward) -> Iterator[None]:
    yield
    assert check_invariants(one_ward.site, one_ward.now) == ()


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    """Nadia answers for it, and it runs."""
    return one_ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))


def hands_over(ward: Ward, **totals: str) -> Ward:
    """Nadia opens its handoff, and Imogen takes it."""
    opened = ward.opening_on(NADIA, HANDOFF_STANDING)
    assert isinstance(opened, opening.Opened), opened
    ward.check = opened.check
    ward.joins(IMOGEN)
    one = ward.of_its_patient(changed(answers(), totals=TOTALS))
    ward.reads(NADIA, one).reads(IMOGEN, changed(one, totals={**TOTALS, **totals}))
    return ward.compares()


def stopped(ward: Ward) -> None:
    ward.stops()


def held(ward: Ward) -> None:
    hurry.note_reversal(ward.site, ward.act(RUTH), ward.state().check.infusion)


def away(ward: Ward) -> None:
    hurry.note_away(ward.site, ward.act(RUTH), ward.state().check.infusion, what="mri")


def kept_as_evidence(ward: Ward) -> None:
    infusion = ward.state().check.infusion
    hurry.note_harm(ward.site, ward.act(RUTH), infusion, what="overdose")
    sealed = Sealed(seal="S-1", holder="Ruth", place="safe", read={**TOTALS, "total_volume": "none"})
    hurry.keep_evidence(ward.site, ward.act(RUTH), infusion, sealed)


def ended(ward: Ward) -> None:
    ward.stops(why=END_OF_THERAPY)


@pytest.mark.parametrize("stands", [stopped, held, away, kept_as_evidence, ended])
def test_with_both_signatures_the_next_nurse_answers_for_it_as_it_stands(
    running: Ward, stands: object
) -> None:
    assert callable(stands)
    stands(running)
    before = running.loaded().infusion
    hands_over(running)
    assert {each.severity for each in running.state().findings} <= {"note", "caution"}
    for each in running.state().findings:
        running.acknowledges(NADIA, each.code).acknowledges(IMOGEN, each.code)
    running.signs(NADIA).signs(IMOGEN)
    after = running.loaded().infusion
    assert (running.phase, after.responsible) == (Phase.DONE, IMOGEN.id)
    assert (after.is_running, after.emergencies, after.ended_at) == (
        False,
        before.emergencies,
        before.ended_at,
    )


def test_what_stands_counts_the_same_for_both(running: Ward) -> None:
    stopped(running)
    hands_over(running, presses="10")
    assert running.phase is Phase.DISPUTED
    assert [(each.code, each.field) for each in running.state().findings] == [
        ("readings-differ", "totals.presses")
    ]


def test_what_runs_is_handed_over_as_what_runs_and_what_stands_as_what_stands(running: Ward) -> None:
    assert running.opening_on(NADIA, HANDOFF_STANDING) == opening.Barred(bar=Bar.RUNS)
    stopped(running)
    assert running.opening_on(NADIA, HANDOFF) == opening.Barred(bar=Bar.NOT_RUNNING)
    another = running.opening_on(TOMAS, HANDOFF_STANDING)
    assert another == opening.AnotherAnswers(name=NADIA.printed_name)


def test_a_line_that_is_paused_is_handed_over_as_what_runs(running: Ward) -> None:
    running.pausing_line(NADIA)
    assert isinstance(running.opening_on(NADIA, HANDOFF), opening.Opened)


def test_it_stands_among_what_the_nurse_answers_for(running: Ward) -> None:
    stopped(running)
    (mine,) = answering.my_infusions(running.site, running.act(NADIA)).mine
    assert (mine.infusion, mine.runs) == (running.state().check.infusion, False)
