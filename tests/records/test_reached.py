"""How far the review of a finding has come, by what was done with it."""

from app.records.kept_reviews import ASSIGNED, COMMENTED, REVIEWED, Classification, FindingReview
from app.records.reached import Reached, all_reached, reached
from tests.factories.findings import DIFFER, NOTE
from tests.records import test_kept_reviews as said_before
from tests.records.test_flat_rows import rows
from tests.story.events import BEGAN, Story

ROW, OTHER = rows(Story().found(DIFFER, NOTE).abandoned()).findings
FIRST, SECOND = (
    Classification(**{**vars(each), "check": ROW.check}) for each in (said_before.FIRST, said_before.SECOND)
)


def done(what: str, *, to: str = "", number: int = 1) -> FindingReview:
    """One act of somebody's."""
    return FindingReview(
        check=ROW.check,
        subject=ROW.subject,
        round=1,
        number=number,
        position=7,
        what=what,
        at=BEGAN,
        person="quill",
        assigned_to=to,
        text="",
    )


def states(*reviews: FindingReview, said: tuple[Classification, ...] = ()) -> set[tuple[str, str]]:
    return {(each.state, each.person) for each in reached(ROW, reviews, said)}


def test_what_is_done_twice_is_reached_once_and_a_note_reaches_nothing() -> None:
    assert states() == set()
    assert states(done(COMMENTED)) == set()
    assert states(done(REVIEWED), done(REVIEWED)) == {(Reached.REVIEWED, "")}
    given = {(Reached.GIVEN, ""), (Reached.GIVEN_TO, "ruth"), (Reached.GIVEN_TO, "petra")}
    assert states(done(ASSIGNED, to="ruth"), done(ASSIGNED, to="petra"), done(ASSIGNED, to="ruth")) == given


def test_two_who_say_it_alike_and_two_who_do_not() -> None:
    alike = Classification(**{**vars(SECOND), "category": FIRST.category})
    other_reader = Classification(**{**vars(alike), "readers": "B"})
    once, twice = (Reached.CLASSIFIED, ""), (Reached.CLASSIFIED_TWICE, "")

    assert states(said=(FIRST,)) == {once}
    assert states(said=(FIRST, alike)) == {once, twice}
    for apart in (SECOND, other_reader):
        assert states(said=(FIRST, apart)) == {once, twice, (Reached.CLASSIFIED_APART, "")}


def test_of_another_finding_of_the_check_nothing_counts() -> None:
    assert reached(OTHER, [done(REVIEWED)], [FIRST]) == frozenset()
    every = all_reached([OTHER, ROW], [done(REVIEWED), done(REVIEWED, number=2)], [FIRST])

    assert [(each.number, each.state, each.unit, each.compared_at) for each in every] == [
        (1, "classified", ROW.unit, ROW.compared_at),
        (1, "reviewed", ROW.unit, ROW.compared_at),
        (2, "reviewed", ROW.unit, ROW.compared_at),
    ]
