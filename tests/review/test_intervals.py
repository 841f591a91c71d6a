"""Intervals and rates against published tables, and against SciPy's own."""

from fractions import Fraction

import pytest
from scipy import stats

from app.review.intervals import Interval, Rate, Share, exact_count, exact_share, wilson

# Newcombe, Stat Med 1998;17:857-72, table I, method 3.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("count", "of", "low", "high"), NEWCOMBE)
def test_wilsons_interval_is_the_published_one(count: int, of: int, low: float, high: float) -> None:
    found = wilson(Share(count=count, of=of))

    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


@pytest.mark.parametrize(("count", "of"), [(0, 1), (1, 1), (3, 10), (10, 10), (62, 25198), (36, 3563)])
def test_both_intervals_of_a_share_are_scipys(count: int, of: int) -> None:
    law = stats.binomtest(count, of)
    share = Share(count=count, of=of)

    by_wilson, by_exact = law.proportion_ci(method="wilson"), law.proportion_ci(method="exact")
    assert (wilson(share).low, wilson(share).high) == pytest.approx((by_wilson.low, by_wilson.high))
    assert (exact_share(share).low, exact_share(share).high) == pytest.approx((by_exact.low, by_exact.high))


@pytest.mark.parametrize("count", [0, 1, 21, 62, 400])
def test_the_exact_interval_of_a_count_is_scipys(count: int) -> None:
    found = exact_count(count)

    assert stats.poisson(found.high).cdf(count) == pytest.approx(0.025)
    assert found.low == 0 if count == 0 else stats.poisson(found.low).sf(count - 1) == pytest.approx(0.025)


# Paul and others, Anesthesiology 2010;113:1427-32: errors of 25,198 patients; the intervals derived.
@pytest.mark.parametrize(
    ("events", "of", "says"),
    [(62, 25198, (2.46, 1.89, 3.15)), (21, 25198, (0.83, 0.52, 1.27)), (0, 1000, (0.0, 0.0, 3.69))],
)
def test_a_rate_is_for_each_1000_of_what_is_named(events: int, of: int, says: tuple[float, ...]) -> None:
    rate = Rate(events=events, of=of, named="patients")

    found = (float(rate.per_1000), rate.interval.low, rate.interval.high)
    assert tuple(round(each, 2) for each in found) == says


def test_wilsons_interval_of_the_same_rates_is_the_derived_one() -> None:
    found = [wilson(Share(count=count, of=25198)).times(1000) for count in (62, 21)]

    assert [(round(each.low, 2), round(each.high, 2)) for each in found] == [(1.92, 3.15), (0.55, 1.27)]


@pytest.mark.parametrize(("count", "of"), [(0, 0), (2, 1), (-1, 5)])
def test_a_share_of_nothing_is_a_bug(count: int, of: int) -> None:
    with pytest.raises(ValueError, match="is no share"):
        Share(count=count, of=of)


def test_an_interval_holds_its_ends_and_a_share_is_exact() -> None:
    interval = Interval(low=0.25, high=0.5)

    assert [interval.holds(each) for each in (0.2, 0.25, 0.3, 0.5, 0.6)] == [False, True, True, True, False]
    assert Share(count=1, of=3).value == Fraction(1, 3)
