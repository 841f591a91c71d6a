"""How far the review of findings has come: a row for each state that a finding has reached, for lists.

They follow from what was done with a finding, and are made again from that at any time.
"""

from collections.abc import Iterable
from enum import StrEnum

from app.records.kept_reviews import ASSIGNED, REVIEWED, SECOND_PLACE, Classification, FindingReview
from app.records.kept_rows import FindingReached, FindingRow, place_of


class Reached(StrEnum):
    """What a finding has reached; once reached, it stays so."""

    REVIEWED = "reviewed"
    GIVEN = "given"
    GIVEN_TO = "given to"
    CLASSIFIED = "classified"
    CLASSIFIED_TWICE = "classified twice"
    CLASSIFIED_APART = "classified apart"


class ReviewState(StrEnum):
    """By what of its review findings are looked for."""

    NOT_REVIEWED = "not-reviewed"
    REVIEWED = "reviewed"
    GIVEN_TO_ME = "given-to-me"
    GIVEN = "given"
    CLASSIFIED_ONCE = "classified-once"
    CLASSIFIED_TWICE = "classified-twice"
    CLASSIFIED_APART = "classified-apart"


def reached(
    row: FindingRow, reviews: Iterable[FindingReview], given: Iterable[Classification]
) -> frozenset[FindingReached]:
    """Every state that the finding has reached; of what was done with others of its check nothing counts."""
    said = [each for each in given if _is_of(each, row)]
    states: set[tuple[Reached, str]] = set()
    for each in reviews:
        if _is_of(each, row) and each.what == REVIEWED:
            states |= {(Reached.REVIEWED, "")}
        if _is_of(each, row) and each.what == ASSIGNED:
            states |= {(Reached.GIVEN, ""), (Reached.GIVEN_TO, each.assigned_to)}
    if said:
        states |= {(Reached.CLASSIFIED, "")}
    if len(said) == SECOND_PLACE:
        states |= {(Reached.CLASSIFIED_TWICE, "")}
    if len({(each.category, each.readers) for each in said}) == SECOND_PLACE:
        states |= {(Reached.CLASSIFIED_APART, "")}
    return frozenset(
        FindingReached(
            check=row.check,
            subject=row.subject,
            round=row.round,
            number=row.number,
            state=state.value,
            person=person,
            unit=row.unit,
            compared_at=row.compared_at,
        )
        for state, person in states
    )


def all_reached(
    rows: Iterable[FindingRow], reviews: Iterable[FindingReview], given: Iterable[Classification]
) -> tuple[FindingReached, ...]:
    """Of every finding of a check, in one order."""
    every, said = tuple(reviews), tuple(given)
    return tuple(sorted((each for row in rows for each in reached(row, every, said)), key=_order))


def _order(each: FindingReached) -> tuple[str, int, int, str, str]:
    return each.subject, each.round, each.number, each.state, each.person


def _is_of(each: FindingReview | Classification, row: FindingRow) -> bool:
    return (each.check, each.subject, each.round, each.number) == place_of(row)
