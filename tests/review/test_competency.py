"""What a person's checks on training cards add up to, and the words for it."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.review.competency import Trained, competency
from app.review.intervals import Share

LINE = Trained(on=datetime(2031, 5, 2, tzinfo=UTC), number=1, wrong="Wrong digits", caught=True, seconds=100)


def test_what_could_be_caught_is_counted_and_what_could_not_is_left_out() -> None:
    missed, nothing = (
        replace(LINE, caught=False, seconds=300),
        replace(LINE, wrong="", caught=None, seconds=None),
    )
    made = competency([LINE, missed, LINE, nothing])

    assert made.caught == Share(count=2, of=3)
    assert made.took is not None
    assert made.took.count == 3
    assert made.took.median == 100
    assert len(made.lines) == 4


@pytest.mark.parametrize("lines", [[], [replace(LINE, caught=None, seconds=None)]])
def test_where_nothing_could_be_caught_there_is_no_share_and_no_time(lines: list[Trained]) -> None:
    made = competency(lines)
    assert (made.caught, made.took) == (None, None)
