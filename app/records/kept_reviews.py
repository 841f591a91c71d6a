"""What is kept of the review of findings: a row for each act, which only ever come to be more."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

REVIEWED, ASSIGNED, COMMENTED = "reviewed", "assigned", "commented"

CATEGORIES = "ABCDEFGHI"
"""Of the index for categorizing medication errors of the National Coordinating Council for Medication Error
Reporting and Prevention (NCC MERP, 2001), by letter alone; its text is the council's."""
NO_ERROR = "A"
READERS = ("", "A", "B", "AB")
FIRST_PLACE, SECOND_PLACE = 1, 2


@dataclass(frozen=True, kw_only=True)
class FindingReview:
    """One act: what was done, by whom, and to whom it was given; `position` is its place in the log."""

    check: str
    subject: str
    round: int
    number: int
    position: int
    what: str
    at: datetime
    person: str
    assigned_to: str
    text: str


@dataclass(frozen=True, kw_only=True)
class Classification:
    """What one person says that a finding was; `factors` are keys, with spaces between."""

    check: str
    subject: str
    round: int
    number: int
    place: int
    at: datetime
    person: str
    category: str
    readers: str
    factors: str
    text: str


def shown_to(
    person: str, given: Iterable[Classification], *, may_classify: bool
) -> tuple[Classification, ...]:
    """Whoever may still be the second is told of the own answer alone, until both have given theirs."""
    every = tuple(given)
    if not may_classify or len(every) == SECOND_PLACE:
        return every
    return tuple(each for each in every if each.person == person)


def reviews_shown_to(
    person: str,
    reviews: Iterable[FindingReview],
    given: Iterable[Classification],
    *,
    may_classify: bool,
) -> tuple[FindingReview, ...]:
    """Whoever is not told an answer sees no words that could give it away, only that something was done.

    Those are all words of whoever gave it, and from then on those of anybody else: others are told it.
    """
    every, answers = tuple(reviews), tuple(given)
    if shown_to(person, answers, may_classify=may_classify) == answers:
        return every
    (first,) = answers
    told = (replace(each, text="") if _may_tell(each, person, first) else each for each in every)
    # A note is its words.
    return tuple(each for each in told if each.what != COMMENTED or each.text)


def _may_tell(each: FindingReview, person: str, first: Classification) -> bool:
    return each.person != person and (each.person == first.person or each.at >= first.at)
