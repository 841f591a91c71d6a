"""Pareto, durations and drawing by a seed."""

from collections import Counter
from fractions import Fraction
from hashlib import sha256

import numpy as np
import pytest

from app.review.draws import Draws
from app.review.durations import Spread, spread
from app.review.pareto import Bar, pareto


def test_the_most_frequent_comes_first_and_what_never_was_is_left_out() -> None:
    bars = pareto({"late": 2, "wrong": 5, "early": 2, "never": 0, "rare": 1})

    assert [each.kind for each in bars] == ["wrong", "early", "late", "rare"]
    assert bars[1] == Bar(kind="early", count=2, together=Fraction(7, 10))
    assert bars[-1].together == 1
    assert pareto({"never": 0}) == ()


@pytest.mark.parametrize("seconds", [[60], [5, 1], [7, 1, 9, 4], list(range(0, 997, 3))])
def test_quantiles_are_those_of_numpy(seconds: list[int]) -> None:
    found = spread(seconds)

    assert isinstance(found, Spread)
    said = (found.quarters[0], found.median, found.quarters[1], found.ninth)
    assert [float(each) for each in said] == pytest.approx(np.quantile(seconds, [0.25, 0.5, 0.75, 0.9]))
    assert found.count == len(seconds)


def test_of_no_durations_there_is_no_middle() -> None:
    assert spread([]) is None


def test_anyone_can_draw_again_what_a_seed_drew() -> None:
    def number(place: int) -> int:
        return int.from_bytes(sha256(f"audit 2031-05\n{place}".encode()).digest()[:8], "big")

    draws = Draws("audit 2031-05")

    assert [draws.below(1000) for _ in range(3)] == [number(place) % 1000 for place in range(3)]


def test_draws_are_even_and_as_likely_as_said() -> None:
    draws = Draws("even")
    dice = Counter(draws.below(6) for _ in range(6000))
    quarter = sum(draws.happens(Fraction(1, 4)) for _ in range(4000))
    by_weight = Counter(draws.weighted({"one": 1, "never": 0, "three": 3}) for _ in range(4000))
    one_of = Counter(draws.one_of("ab") for _ in range(2000))

    assert all(850 < dice[each] < 1150 for each in range(6))
    assert 900 < quarter < 1100
    assert by_weight.keys() == {"one", "three"}
    assert 2850 < by_weight["three"] < 3150
    assert 900 < one_of["a"] < 1100


def test_a_number_that_would_favour_the_lowest_is_drawn_anew() -> None:
    # Of so wide a range nearly every second number lies past its last whole multiple.
    end = (1 << 63) + 1
    draws = Draws("wide")

    assert all(0 <= draws.below(end) < end for _ in range(20))
    assert any(draws.below(end) >= 1 << 62 for _ in range(20))
