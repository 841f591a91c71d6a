"""What was checked on paper and typed in later: never a check, and counted once two have said it is right."""

from datetime import datetime, timedelta

from app.records.course import Course as CourseOf
from app.records.course import course_after
from app.records.events import DeviceStopped
from app.records.infusion import InfusionState
from app.records.on_paper import paper_look
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.ranking import Standing
from app.records.visibility import standing_of_infusion
from tests.records.test_infusion import Course, told
from tests.story.events import NADIA, RUTH, TOMAS

SOON, LATER = timedelta(minutes=30), timedelta(minutes=120)


def typed(story: Course, *, by: str = NADIA, second: str = "", corrects: str = "") -> int:
    """Somebody types the sheets in; the position of that."""
    rows = (("device", "demand_dose", "0.2 mg", second),)
    event = PaperTranscribed(checked_at="14:10", first="Nadia", second="Tomas", rows=rows, corrects=corrects)
    story.of("", event, by=by)
    return story.entries[-1].position


def held(story: Course, position: int, *, by: str = RUTH, same: bool = True) -> InfusionState:
    """Somebody holds it beside the sheets."""
    story.of("", PaperConfirmed(transcription=str(position), same=same), by=by)
    return story.infusion()


def due(infusion: InfusionState) -> datetime | None:
    return infusion.check_due_at(SOON, on_paper=LATER)


def test_until_another_has_confirmed_it_it_runs_without_a_check() -> None:
    story = told().starts_unchecked()
    began = story.now
    position = typed(story)
    infusion = story.infusion()
    assert (infusion.on_paper, standing_of_infusion(infusion)) == (None, Standing.UNCHECKED)
    assert infusion.waits_on_paper is not None
    assert infusion.waits_on_paper.by == NADIA
    assert due(infusion) == began + SOON
    infusion = held(story, position)
    assert infusion.on_paper is not None
    assert (infusion.on_paper.by, infusion.on_paper.answered_by) == (NADIA, RUTH)
    assert infusion.waits_on_paper is None
    assert standing_of_infusion(infusion) is Standing.ON_PAPER


def test_it_is_no_check() -> None:
    story = told().starts_unchecked()
    infusion = held(story, typed(story))
    assert infusion.is_unchecked
    assert not infusion.ever_checked
    assert infusion.in_force == ""


def test_a_blind_check_ends_it_and_so_does_the_end() -> None:
    story = told().starts_unchecked()
    held(story, typed(story))
    for infusion in (story.is_done("1").infusion(), told().ends().infusion()):
        assert infusion.on_paper is None
        assert standing_of_infusion(infusion) is not Standing.ON_PAPER
    assert story.infusion().transcriptions


def test_what_was_found_wrong_does_not_count_and_is_typed_in_anew() -> None:
    story = told().starts_unchecked()
    position = typed(story)
    infusion = held(story, position, same=False)
    assert (infusion.on_paper, infusion.waits_on_paper) == (None, None)
    again = typed(story, by=TOMAS, corrects=str(position))
    infusion = held(story, again, by=NADIA)
    assert infusion.on_paper is not None
    assert infusion.on_paper.position == again
    assert [each.position for each in infusion.transcriptions] == [position, again]


def test_what_stands_stands_until_what_is_typed_in_its_place_is_confirmed() -> None:
    story = told().starts_unchecked()
    first = typed(story)
    held(story, first)
    second = typed(story, by=RUTH, corrects=str(first))
    infusion = story.infusion()
    assert infusion.on_paper is not None
    assert infusion.on_paper.position == first
    assert infusion.waits_on_paper is not None
    assert infusion.waits_on_paper.position == second
    infusion = held(story, second, by=TOMAS)
    assert infusion.on_paper is not None
    assert infusion.on_paper.position == second


def test_the_blind_check_is_due_from_the_first_time_it_was_typed_in() -> None:
    story = told().starts_unchecked()
    position = typed(story)
    at = story.entries[-1].at
    held(story, position)
    assert due(held(story, typed(story, corrects=str(position)))) == at + LATER


def test_only_the_first_answer_to_it_counts() -> None:
    story = told().starts_unchecked()
    position = typed(story)
    held(story, position, same=False)
    infusion = held(story, position, by=TOMAS)
    assert infusion.on_paper is None
    assert [each.answered_by for each in infusion.transcriptions] == [RUTH]
    # Nor does an answer to what nobody typed in.
    assert held(story, 9999).on_paper is None


def test_an_answer_by_the_same_person_or_in_the_same_session_counts_for_nothing() -> None:
    story = told().starts_unchecked()
    infusion = held(story, typed(story), by=NADIA)
    assert infusion.on_paper is None
    (only,) = infusion.transcriptions
    assert only.waits
    assert only.may_be_answered(RUTH, "another session")
    assert not only.may_be_answered(NADIA, "another session")
    assert not only.may_be_answered(RUTH, only.session)


def test_where_the_two_sheets_say_something_else() -> None:
    rows = (("device", "mode", "Demand only", ""), ("device", "demand_dose", "0.2 mg", "2 mg"))
    event = PaperTranscribed(checked_at="", first="A", second="B", rows=rows)
    assert event.differing == (("device", "demand_dose"),)


def test_a_set_up_at_its_bed_is_of_the_same_infusion() -> None:
    story = told().starts_unchecked()
    infusion = held(story, typed(story))
    course = course_after(infusion, None, passes_on=SOON, now=story.now)
    assert course is CourseOf.ON_PAPER


def test_a_stop_changes_nothing() -> None:
    story = told().starts_unchecked()
    held(story, typed(story))
    story.of("", DeviceStopped(stopped_at="", why="other", totals=""), by=RUTH)
    assert story.infusion().on_paper is not None


def test_what_had_to_start_again_after_a_stop_was_checked_on_no_sheet() -> None:
    story = told().starts_unchecked()
    held(story, typed(story))
    # Where it runs by the log, what another writes of it is the same run.
    assert story.starts_unchecked().infusion().on_paper is not None
    infusion = story.stops().starts_unchecked().infusion()
    assert standing_of_infusion(infusion) is Standing.UNCHECKED
    assert due(infusion) is not None
    assert held(story, typed(story)).on_paper is not None


def test_a_look_at_it_is_of_one_infusion() -> None:
    assert paper_look("one") != paper_look("other")
    assert paper_look("one").endswith("one")
