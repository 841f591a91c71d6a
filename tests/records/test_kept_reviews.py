"""Who is told what another said that a finding was."""

from datetime import UTC, datetime

from app.records.kept_reviews import Classification, shown_to

FIRST = Classification(
    check="check-1",
    subject="sources",
    round=1,
    number=1,
    place=1,
    at=datetime(2031, 5, 2, tzinfo=UTC),
    person="quill",
    category="B",
    readers="A",
    factors="",
    text="",
)
SECOND = Classification(**{**vars(FIRST), "place": 2, "person": "petra", "category": "A"})


def test_whoever_may_be_the_second_is_told_nothing_of_the_first() -> None:
    assert shown_to("petra", [FIRST], may_classify=True) == ()
    assert shown_to("quill", [FIRST], may_classify=True) == (FIRST,)
    assert shown_to("ruth", [FIRST], may_classify=False) == (FIRST,)


def test_once_two_have_said_it_everybody_is_told() -> None:
    assert shown_to("petra", [FIRST, SECOND], may_classify=True) == (FIRST, SECOND)
