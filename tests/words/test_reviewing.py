from datetime import UTC, datetime

from app.records.kept_rows import FindingReached
from app.records.reached import Reached, ReviewState
from app.words.reviewing import STATES, reached_words


def at(*states: tuple[Reached, str]) -> list[FindingReached]:
    return [
        FindingReached(
            check="check-1",
            subject="sources",
            round=1,
            number=1,
            state=state,
            person=who,
            unit="ward-5",
            compared_at=datetime(2031, 5, 2, tzinfo=UTC),
        )
        for state, who in states
    ]


def test_how_far_a_review_has_come_is_said_to_whoever_looks() -> None:
    given = at((Reached.GIVEN, ""), (Reached.GIVEN_TO, "quill"))

    assert reached_words([], "quill") == "Not looked through yet"
    assert reached_words(given, "quill") == "Not looked through yet, given to you"
    assert reached_words(given, "ruth") == "Not looked through yet, given to somebody"
    once = at((Reached.REVIEWED, ""), (Reached.CLASSIFIED, ""))
    assert reached_words(once, "ruth") == "Looked through, classified by one"
    twice = [*once, *at((Reached.CLASSIFIED_TWICE, ""))]
    assert reached_words(twice, "ruth") == "Looked through, classified by two"
    apart = [*twice, *at((Reached.CLASSIFIED_APART, ""))]
    assert reached_words(apart, "ruth") == "Looked through, classified by two who do not agree"


def test_every_state_that_is_looked_for_has_words() -> None:
    assert {*STATES} == {*ReviewState}
