from datetime import UTC, datetime

from app.records.kept_rows import FindingReached
from app.records.reached import Reached, ReviewState
from app.words.reviewing import STATES, reached_words, your_part_words


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

    assert reached_words([], "caution", "quill") == "Not looked through yet"
    assert reached_words(given, "stop", "quill") == "Not looked through yet, given to you"
    assert reached_words(given, "stop", "ruth") == "Not looked through yet, given to somebody"
    once = at((Reached.REVIEWED, ""), (Reached.CLASSIFIED, ""))
    assert reached_words(once, "stop", "ruth") == "Looked through, classified by one"
    twice = [*once, *at((Reached.CLASSIFIED_TWICE, ""))]
    assert reached_words(twice, "stop", "ruth") == "Looked through, classified by two"
    apart = [*twice, *at((Reached.CLASSIFIED_APART, ""))]
    assert reached_words(apart, "stop", "ruth") == "Looked through, classified by two who do not agree"


def test_what_is_for_information_need_not_be_looked_through() -> None:
    assert reached_words([], "note", "quill") == ""
    assert reached_words(at((Reached.REVIEWED, "")), "note", "quill") == "Looked through"


def test_the_second_who_classifies_is_told_that_they_are_and_no_more() -> None:
    assert your_part_words(at((Reached.REVIEWED, ""))) == "You would be the first to classify it"
    assert "you would be the second" in your_part_words(at((Reached.CLASSIFIED, "")))


def test_every_state_that_is_looked_for_has_words() -> None:
    assert {*STATES} == {*ReviewState}
