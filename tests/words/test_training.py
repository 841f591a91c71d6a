"""The words of checks on training cards."""

from dataclasses import replace

import pytest

from app.review.competency import Trained, competency
from app.review.errors import Error
from app.words.training import (
    caught_of_words,
    caught_words,
    median_time_words,
    median_words,
    took_words,
    wrong_words,
)
from tests.review.test_competency import LINE, MISSED

_DIGITS, _DRUG = "Wrong digits in the demand dose", "Syringe of another drug"


@pytest.mark.parametrize(
    ("line", "wrong", "caught", "took"),
    [
        (LINE, _DIGITS, "Caught", "1 min"),
        (replace(MISSED, error=Error.DRUG, seconds=20), _DRUG, "Not caught", "20 s"),
        (replace(LINE, caught=None, seconds=None), _DIGITS, "Not compared", "Not handed in"),
        (replace(LINE, caught=None, error=None), "Nothing was wrong", "Nothing to catch", "1 min"),
    ],
)
def test_each_line(line: Trained, wrong: str, caught: str, took: str) -> None:
    assert (wrong_words(line), caught_words(line), took_words(line)) == (wrong, caught, took)


def test_what_was_caught_stands_with_what_could_be() -> None:
    of = competency([LINE, replace(MISSED, seconds=200)])
    assert caught_of_words(of) == "1 of 2 caught"
    assert median_words(of) == "Reading 1 took 2 min, the middle of all, from joining to the hand-in."
    assert median_words(competency([LINE])) == "Reading 1 took 1 min, from joining to the hand-in."
    assert median_time_words(of) == "2 min"


def test_nothing_yet_is_said_in_words() -> None:
    assert caught_of_words(competency([])) == "No set with something wrong was compared yet."
    assert median_words(competency([])) == "No reading 1 was handed in yet."
    assert median_time_words(competency([])) == "Not handed in"
