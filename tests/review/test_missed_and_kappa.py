"""What both missed, and how far two agree, against published worked examples."""

from fractions import Fraction
from math import sqrt

import pytest

from app.review.kappa import Agreement, NoKappa, agreement
from app.review.missed import (
    Caught,
    Missed,
    NoneAlone,
    TooFewByBoth,
    chapman,
    chapman_variance,
    estimate_missed,
)


# First, second, both, Chapman's estimate and what neither caught: two published class-room examples, and an
# encyclopaedia's (from memory); what neither caught is derived.
@pytest.mark.parametrize(
    ("caught", "errors", "missed"),
    [
        (Caught(first=100, second=100, both=10), 926.364, 736.4),
        (Caught(first=23, second=28, both=9), 68.6, 26.6),
        (Caught(first=10, second=15, both=5), 28.333, 8.3),
    ],
)
def test_chapmans_estimate_is_the_published_one(caught: Caught, errors: float, missed: float) -> None:

    assert float(chapman(caught)) == pytest.approx(errors, abs=5e-4)
    assert float(chapman(caught)) - caught.distinct == pytest.approx(missed, abs=0.05)


def test_the_variance_is_the_one_that_its_formula_gives_by_hand() -> None:
    assert chapman_variance(Caught(first=23, second=28, both=9)) == Fraction(24 * 29 * 14 * 19, 10 * 10 * 11)


def test_the_estimate_comes_with_an_interval_that_never_lies_below_zero() -> None:
    found = estimate_missed(Caught(first=100, second=100, both=10))

    assert isinstance(found, Missed)
    assert found.missed == found.errors - 190
    assert 0 < found.interval.low < found.missed < found.interval.high
    # Of a logarithm: as far below, in times, as above.
    assert found.interval.low * found.interval.high == pytest.approx(float(found.missed) ** 2)


def test_where_few_were_caught_by_both_there_is_no_estimate() -> None:
    caught = Caught(first=10, second=15, both=6)

    assert estimate_missed(caught) == TooFewByBoth(caught=caught)


def test_where_one_caught_nothing_alone_there_is_no_estimate() -> None:
    for caught in (Caught(first=9, second=20, both=9), Caught(first=20, second=9, both=9)):
        assert estimate_missed(caught) == NoneAlone(caught=caught)


# Rows: kappa with its error as the package Delta prints it for GetKappa; the other from memory.
@pytest.mark.parametrize(
    ("table", "kappa", "error", "simple"),
    [
        ([[50, 10], [10, 20]], Fraction(1, 2), 0.09682458, 0.0986013),
        ([[20, 5], [10, 15]], Fraction(2, 5), 0.1269961, 0.1296148),
    ],
)
def test_kappa_and_its_error_are_the_published_ones(
    table: list[list[int]], kappa: Fraction, error: float, simple: float
) -> None:
    found = agreement(table)
    assert isinstance(found, Agreement)

    assert found.kappa == kappa
    assert found.error == pytest.approx(error, abs=5e-8)
    # The simple formula, which is another: which one is said must be said.
    total, chance = sum(map(sum, table)), 1 - float(found.by_chance)
    plain = sqrt(float(found.alike) * (1 - float(found.alike)) / total) / chance
    assert plain == pytest.approx(simple, abs=5e-8)
    assert not found.is_unstable


def test_where_nearly_all_agree_kappa_is_said_to_be_unstable_and_stays_within_its_bounds() -> None:
    found = agreement([[990, 4], [5, 1]])

    assert isinstance(found, Agreement)
    assert found.is_unstable
    assert found.alike > Fraction(99, 100)
    assert found.kappa < Fraction(1, 5)
    assert found.table == ((990, 4), (5, 1))
    perfect = agreement([[20, 0], [0, 20]])
    assert isinstance(perfect, Agreement)
    assert [perfect.kappa, perfect.interval.high] == [1, 1]
    assert found.interval.low < float(found.kappa) < found.interval.high


@pytest.mark.parametrize("table", [[[0, 0], [0, 0]], [[12, 0], [0, 0]]])
def test_where_nothing_is_left_to_chance_there_is_no_kappa(table: list[list[int]]) -> None:
    assert agreement(table) == NoKappa(table=tuple(map(tuple, table)))
