"""Who is told what another said that a finding was."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from app.records.kept_reviews import (
    ASSIGNED,
    COMMENTED,
    REVIEWED,
    Classification,
    FindingReview,
    reviews_shown_to,
    shown_to,
)

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


NOTE = FindingReview(
    check="check-1",
    subject="sources",
    round=1,
    number=1,
    position=7,
    what=COMMENTED,
    at=FIRST.at + timedelta(minutes=5),
    person="quill",
    assigned_to="",
    text="B, as nurse A misread it",
)
OF_ANOTHER = replace(NOTE, person="ruth")
BEFORE = FIRST.at - timedelta(seconds=1)


@pytest.mark.parametrize(
    ("note", "is_shown"),
    {
        "the first's, since": (NOTE, False),
        "the first's, from before": (replace(NOTE, at=BEFORE), False),
        "another's, since": (OF_ANOTHER, False),
        "another's, of that moment": (replace(OF_ANOTHER, at=FIRST.at), False),
        "another's, from before": (replace(OF_ANOTHER, at=BEFORE), True),
        "the own": (replace(NOTE, person="petra"), True),
    }.values(),
)
def test_whoever_may_be_the_second_sees_no_words_that_could_tell_of_the_first(
    note: FindingReview, *, is_shown: bool
) -> None:
    shown = (note,) if is_shown else ()
    assert reviews_shown_to("petra", [note], [FIRST], may_classify=True) == shown


def test_that_it_was_reviewed_or_given_on_is_seen_without_a_word() -> None:
    done = (replace(NOTE, what=REVIEWED), replace(NOTE, what=ASSIGNED, assigned_to="petra"))
    shown = reviews_shown_to("petra", done, [FIRST], may_classify=True)
    assert shown == tuple(replace(each, text="") for each in done)


@pytest.mark.parametrize(
    ("person", "given", "may_classify"),
    {
        "nobody has classified it": ("petra", [], True),
        "both have": ("petra", [FIRST, SECOND], True),
        "who was the first": ("quill", [FIRST], True),
        "who cannot be the second": ("ruth", [FIRST], False),
    }.values(),
)
def test_whoever_is_kept_from_nothing_sees_every_word(
    person: str, given: list[Classification], *, may_classify: bool
) -> None:
    done = (NOTE, replace(NOTE, what=REVIEWED), OF_ANOTHER)
    assert reviews_shown_to(person, done, given, may_classify=may_classify) == done
