"""The words of checks on training cards."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.review.competency import Trained, competency
from app.words.training import caught_share_words, caught_words, median_words, took_words

LINE = Trained(on=datetime(2031, 5, 2, tzinfo=UTC), number=1, wrong="Wrong digits", caught=True, seconds=100)


@pytest.mark.parametrize(
    ("line", "caught", "took"),
    [
        (LINE, "Caught", "1 min"),
        (replace(LINE, caught=False, seconds=20), "Not caught", "20 s"),
        (replace(LINE, caught=None, seconds=None), "Not compared", "Not handed in"),
        (replace(LINE, caught=None, wrong=""), "Nothing to catch", "1 min"),
    ],
)
def test_each_line(line: Trained, caught: str, took: str) -> None:
    assert (caught_words(line), took_words(line)) == (caught, took)


def test_a_share_stands_with_its_counts_and_its_interval() -> None:
    of = competency([LINE, replace(LINE, caught=False, seconds=200)])
    assert caught_share_words(of).startswith("1 of 2 caught, 50.0 % (9.5 to 90.5)")
    assert median_words(of).startswith("2 min in the middle")


def test_nothing_yet_is_said_in_words() -> None:
    assert caught_share_words(competency([])) == "No set with something wrong was compared yet."
    assert median_words(competency([])) == "No reading 1 was handed in yet."
