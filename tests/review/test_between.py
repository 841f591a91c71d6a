"""Charts of rare events, against SciPy's own distributions."""

from fractions import Fraction

import pytest
from scipy import stats

from app.review.between import BetweenChart, Gap, g_chart, t_chart
from app.review.charts import TAIL, TooFewPoints
from app.review.signals import Signal


def drawn(chart: object) -> BetweenChart:
    assert isinstance(chart, BetweenChart), chart
    return chart


def counts(*between: int) -> list[tuple[str, int]]:
    return [(str(place), each) for place, each in enumerate(between)]


def gaps(*between: int) -> list[Gap]:
    return [Gap(name=str(place), length=Fraction(each)) for place, each in enumerate(between)]


@pytest.mark.parametrize("mean", [1, 9, 1250, 20000])
def test_the_limits_of_how_many_lie_between_are_exact(mean: int) -> None:
    chart = drawn(g_chart(counts(*[mean - 1, mean + 1] * 6)))
    law = stats.geom(1 / (mean + 1), loc=-1)

    assert chart.mean == mean
    assert law.sf(chart.high) <= TAIL * (1 + 1e-9)
    assert law.sf(chart.high - 1) > TAIL
    assert law.cdf(chart.low - 1) <= TAIL
    assert law.cdf(chart.low) > TAIL
    assert chart.median == law.median()


def test_the_limits_of_how_much_time_lies_between_are_those_of_the_exponential_distribution() -> None:
    chart = drawn(t_chart(gaps(*[20, 40] * 6)))
    law = stats.expon(scale=30)

    assert chart.low == pytest.approx(law.ppf(TAIL))
    assert chart.median == pytest.approx(law.median())
    assert chart.high == pytest.approx(law.isf(TAIL))


def test_an_event_right_after_another_is_out_where_they_are_rare() -> None:
    chart = drawn(g_chart(counts(*[5000, 20000] * 4, 1)))

    assert [(each.gap.name, each.signals) for each in chart.out] == [("8", (Signal.BELOW,))]


def test_a_peace_beyond_the_limit_is_out_and_one_on_it_is_not() -> None:
    calm = [3, 15] * 200
    on, over = (drawn(g_chart(counts(*calm, last))) for last in (63, 64))

    assert (on.high, over.high) == (63, 63)
    assert (on.points[-1].signals, over.points[-1].signals) == ((), (Signal.ABOVE,))


def test_what_always_happens_has_no_gap() -> None:
    chart = drawn(g_chart(counts(*[0] * 8)))

    assert (chart.low, chart.median, chart.high, chart.out) == (0, 0, 0, ())


def test_too_few_gaps_make_no_chart() -> None:
    assert g_chart(counts(3, 4)) == TooFewPoints(points=2)
    assert t_chart(gaps(3, 4, 5)) == TooFewPoints(points=3)


def test_a_time_that_keeps_within_its_limits_is_not_out() -> None:
    assert drawn(t_chart(gaps(*[20, 40] * 6))).out == ()
    assert drawn(t_chart(gaps(*[20, 40] * 60, 900))).points[-1].signals == (Signal.ABOVE,)
