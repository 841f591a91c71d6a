"""A start without a check that was of another bed: what the folds make of it, and who may still say so."""

from dataclasses import replace

import pytest

from app.records import events
from app.records.account_events import AccountLeftOpen
from app.records.change_events import PatientTaken
from app.records.events import Event, StopMisplaced
from app.records.handled import handled
from app.records.infusion import fold_infusion
from app.records.misplaced_starts import counting_starts, is_built_on, last_start_of
from app.records.paper_events import PaperConfirmed
from tests.records.test_account import Course
from tests.records.test_emergencies import DIED, HURRIED, STARTED, STOPPED, entries_of, told

ELSEWHERE = StopMisplaced(stop="3")


@pytest.mark.parametrize(
    "before", [(STARTED, STOPPED), (STARTED, DIED), (HURRIED, STOPPED), (DIED, STOPPED)], ids=str
)
def test_the_infusion_is_as_it_was_before(before: tuple[Event, ...]) -> None:
    was, after = told(*before), told(*before, HURRIED, ELSEWHERE)
    assert after == was
    assert told(*before, HURRIED) != was


def test_what_only_that_start_had_made_is_nothing_that_runs() -> None:
    state = told(HURRIED, StopMisplaced(stop="1"))
    assert (state.runs, state.is_unchecked, state.may_run, state.responsible) == ((), False, False, "")
    # What a colleague wrote of the same bed stands, from then on.
    state = told(HURRIED, HURRIED, StopMisplaced(stop="1"))
    assert state.unchecked_since == state.runs[0].since == entries_of(HURRIED, HURRIED)[1].at


def test_its_account_begins_with_no_start_that_was_of_another_bed() -> None:
    course = Course().tell(HURRIED).tell(StopMisplaced(stop="1"))
    assert course.account().begun is None
    course.done("b")
    assert course.account().entries == ()
    runs = Course().starts("a").tell(events.DeviceStopped(stopped_at="", why="other", totals=""))
    before = runs.kinds()
    assert runs.tell(HURRIED).kinds() == [*before, "started"]
    assert runs.tell(ELSEWHERE).kinds() == before


def test_by_it_nobody_had_drug_in_hand() -> None:
    entries = entries_of(HURRIED, HURRIED, StopMisplaced(stop="1"))
    assert [each.at for each in handled(entries, {})] == [entries[1].at]


@pytest.mark.parametrize(
    ("event", "check", "built"),
    [
        (events.CheckDone(check_kind="re-check"), "2", True),
        (STARTED, "2", True),
        (events.LedToCheck(check_kind="set-up"), "2", True),
        (PatientTaken(unit="b", bed="1", before_unit="a", before="7"), "", True),
        (PaperConfirmed(transcription="1", same=True), "", True),
        (STOPPED, "", False),
        (DIED, "", False),
        # What was told of the check that gave way to it rests on nothing of it.
        (AccountLeftOpen(round=1), "1", False),
        (AccountLeftOpen(round=1), "2", True),
    ],
)
def test_what_somebody_found_of_it_since_keeps_it(event: Event, check: str, *, built: bool) -> None:
    first, *rest = entries_of(replace(HURRIED, instead_of="1"), event)
    entries = [first, *(replace(each, check=check) for each in rest)]
    assert is_built_on(entries, first) is built
    assert last_start_of(entries, "nadia") == (None if built else first)
    assert not is_built_on(entries[::-1], replace(first, position=9))


def test_its_author_alone_may_say_so_and_of_the_last_one() -> None:
    first, second, *_ = entries = entries_of(HURRIED, HURRIED, StopMisplaced(stop="2"))
    assert last_start_of(entries, "tomas") is None
    assert counting_starts(entries) == (first,)
    assert last_start_of(entries, "nadia") == first
    assert last_start_of(entries[:2], "nadia") == second
    assert fold_infusion("infusion-1", entries[:2]).is_unchecked
