"""The chart of single figures against a published one, and what it says of few and of equal ones."""

from fractions import Fraction

import pytest

from app.review.charts import TooFewPoints
from app.review.signals import Signal
from app.review.single import SinglesChart, singles_chart

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: the flow rate of ten batches.
FLOW = ("49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1")


def drawn(*values: str | int) -> SinglesChart:
    chart = singles_chart([(str(place), Fraction(each)) for place, each in enumerate(values, 1)])
    assert isinstance(chart, SinglesChart), chart
    return chart


def test_the_published_chart_has_its_mean_and_its_limits() -> None:
    chart = drawn(*FLOW)

    assert chart.mean == Fraction("50.81")
    assert float(chart.high) == pytest.approx(55.8041, abs=5e-5)
    assert float(chart.low) == pytest.approx(45.8159, abs=5e-5)
    assert chart.out == ()


def test_a_figure_beyond_a_limit_is_out_on_either_side_and_below_zero_too() -> None:
    chart = drawn(*([0, 1] * 10), -9, *([0, 1] * 10), 9)

    assert [(each.value, each.signals) for each in chart.out] == [
        (Fraction(-9), (Signal.BELOW,)),
        (Fraction(9), (Signal.ABOVE,)),
    ]


def test_a_figure_exactly_on_the_limit_is_not_out() -> None:
    chart = drawn(*[2] * 9)

    assert chart.low == chart.high == chart.points[0].value == 2
    assert chart.out == ()


def test_eight_on_one_side_are_out_by_their_rule() -> None:
    chart = drawn(*[0, 1] * 5, *[10, 11] * 5)

    assert Signal.RUN in chart.points[-1].signals


def test_a_few_large_figures_put_no_others_out_of_control() -> None:
    chart = drawn(*[0, 0, 1, 0, 0, -1, 0, 1, 0, 0, -1, 0], 40)

    assert chart.median == 0
    assert chart.mean > 3
    assert [each.name for each in chart.out] == ["13"]


def test_fewer_than_a_run_needs_are_too_few() -> None:
    assert singles_chart([("a", Fraction(1))] * 7) == TooFewPoints(points=7)
