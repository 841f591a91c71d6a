"""Control charts against published ones, and exact limits against SciPy's own distributions."""

from fractions import Fraction

import pytest
from scipy import stats

from app.review.charts import (
    TAIL,
    Chart,
    Subgroup,
    TooFewEvents,
    TooFewPoints,
    TooSmall,
    c_chart,
    p_chart,
    side_by_side,
    u_chart,
)
from app.review.signals import Signal

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2: 30 wafers of 50 chips each.
CHIPS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22]
CHIPS += [8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
# The same, 6.3.3.1: 25 wafers.
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
# Dyed cloth, a textbook's table (Montgomery, Statistical Quality Control; the units from memory).
CLOTH = [(14, "10"), (12, "8"), (20, "13"), (11, "10"), (7, "9.5"), (10, "10"), (21, "12"), (16, "10.5")]
CLOTH += [(19, "12"), (23, "12.5")]


def of(counts: list[int], size: int | Fraction) -> list[Subgroup]:
    return [
        Subgroup(name=str(place), count=each, size=Fraction(size)) for place, each in enumerate(counts, 1)
    ]


def drawn(chart: object) -> Chart:
    assert isinstance(chart, Chart), chart
    return chart


def beyond(chart: Chart) -> list[str]:
    return [each.subgroup.name for each in chart.points if {Signal.ABOVE, Signal.BELOW} & {*each.signals}]


def test_the_published_p_chart_has_its_centre_its_limits_and_its_two_points() -> None:
    chart = drawn(p_chart(of(CHIPS, 50)))

    assert chart.centre == Fraction(347, 1500)
    # The handbook prints 0.4103 and the textbook with the same counts 0.4102: to 2e-4.
    assert {round(each.high, 7) for each in chart.points} == {0.4102391}
    assert {round(each.low, 4) for each in chart.points} == {0.0524}
    assert beyond(chart) == ["15", "23"]


def test_without_these_two_the_published_p_chart_has_its_revised_limits() -> None:
    chart = drawn(p_chart([each for each in of(CHIPS, 50) if each.name not in {"15", "23"}]))

    assert float(chart.centre) == pytest.approx(0.2150, abs=5e-5)
    assert chart.points[0].high == pytest.approx(0.3893, abs=5e-5)
    assert chart.points[0].low == pytest.approx(0.0407, abs=5e-5)
    assert beyond(chart) == ["21"]


def test_the_published_c_chart_has_one_point_out_and_the_one_on_the_limit_is_not() -> None:
    chart = drawn(c_chart((str(place), count) for place, count in enumerate(WAFERS, 1)))

    assert [chart.centre, chart.points[0].low, chart.points[0].high] == [16, 4, 28]
    assert chart.points[2].value == 28
    assert beyond(chart) == ["24"]


def test_the_published_u_chart_has_limits_by_the_size_of_each_subgroup() -> None:
    subgroups = [Subgroup(name=size, count=count, size=Fraction(size)) for count, size in CLOTH]
    chart = drawn(u_chart(subgroups))
    limits = {each.subgroup.name: (round(each.low, 4), round(each.high, 4)) for each in chart.points}

    assert round(float(chart.centre), 4) == 1.4233
    # Derived from the textbook's centre by its formula.
    assert limits == {
        "8": (0.1579, 2.6886),
        "9.5": (0.2621, 2.5844),
        "10": (0.2915, 2.5550),
        "10.5": (0.3187, 2.5278),
        "12": (0.3901, 2.4564),
        "12.5": (0.4110, 2.4356),
        "13": (0.4306, 2.4159),
    }
    assert beyond(chart) == []


def test_no_limit_lies_below_nothing_or_above_everything() -> None:
    low = drawn(p_chart(of([6, 5, 7, 6, 5, 7, 6, 6], 60)))
    high = drawn(p_chart(of([54, 55, 53, 54, 55, 53, 54, 54], 60)))

    assert [each.low for each in low.points] == [0] * 8
    assert not any(each.is_exact for each in (*low.points, *high.points))
    assert [each.high for each in high.points] == [1] * 8


@pytest.mark.parametrize("size", [20, 400, 4000])
def test_where_few_are_expected_the_limits_of_a_share_are_exact(size: int) -> None:
    share = Fraction(3, 4 * size)
    others = [Subgroup(name=str(place), count=3, size=Fraction(4 * size)) for place in range(7)]
    chart = drawn(p_chart([*others, Subgroup(name="small", count=0, size=Fraction(size))]))
    (small,) = [each for each in chart.points if each.subgroup.name == "small"]
    count = round(small.high * size)
    law = stats.binom(size, float(chart.centre))

    assert share > 0
    assert small.is_exact
    assert law.sf(count) <= TAIL < law.sf(count - 1)
    assert small.low == 0


def test_where_few_are_expected_the_limits_of_a_rate_are_exact_and_a_count_on_them_is_not_out() -> None:
    calm = [Subgroup(name=str(place), count=1, size=Fraction(100)) for place in range(60)]
    on = drawn(u_chart([*calm, Subgroup(name="on", count=5, size=Fraction(100))])).points[-1]
    out = drawn(u_chart([*calm, Subgroup(name="out", count=7, size=Fraction(100))])).points[-1]
    law = stats.poisson(65 / 61)

    assert law.sf(5) <= TAIL < law.sf(4)
    assert (on.high, on.signals) == (0.05, ())
    assert out.signals == (Signal.ABOVE,)


def test_nearly_all_is_as_rare_as_nearly_none() -> None:
    nearly = [Subgroup(name=str(place), count=99, size=Fraction(100)) for place in range(60)]
    chart = drawn(p_chart([*nearly, Subgroup(name="worse", count=93, size=Fraction(100))]))
    law = stats.binom(100, float(chart.centre))
    low = round(chart.points[-1].low * 100)

    assert chart.points[-1].signals == (Signal.BELOW,)
    assert law.cdf(low - 1) <= TAIL < law.cdf(low)


def test_where_all_have_it_none_is_out() -> None:
    chart = drawn(p_chart(of([5] * 8, 5)))

    assert [(each.low, each.high, each.signals) for each in chart.points] == [(1, 1, ())] * 8


@pytest.mark.parametrize("chart", [p_chart, u_chart])
def test_too_few_points_or_events_make_no_chart(chart: object) -> None:
    assert callable(chart)
    assert chart(of([9] * 7, 100)) == TooFewPoints(points=7)
    assert chart(of([1, 0, 1, 0, 1, 0, 1, 0], 100)) == TooFewEvents(events=4)
    assert c_chart([("one", 3)]) == TooFewPoints(points=1)


def test_the_eighth_in_a_row_on_one_side_is_out_and_one_on_the_centre_ends_the_run() -> None:
    run = drawn(c_chart((str(each), count) for each, count in enumerate([16] * 8 + [24] * 8)))
    broken = drawn(c_chart((str(each), count) for each, count in enumerate([16] * 7 + [20] + [24] * 7)))

    assert [each.subgroup.name for each in run.out] == ["7", "15"]
    assert all(each.signals == (Signal.RUN,) for each in run.out)
    assert broken.centre == 20
    assert broken.out == ()


@pytest.mark.parametrize("counts", [[13, 14, 15, 16, 17, 18], [18, 17, 16, 15, 14, 13]])
def test_the_sixth_in_a_row_that_rises_or_falls_is_out(counts: list[int]) -> None:
    chart = drawn(c_chart((str(each), count) for each, count in enumerate([16, 15, 16, *counts, 15, 16])))

    assert [(each.subgroup.name, each.signals) for each in chart.out] == [("8", (Signal.STEADY,))]


def test_where_nothing_could_be_out_there_is_no_chart() -> None:
    assert p_chart(of([1, 0, 1, 1, 0, 1, 0, 1], 1)) == TooSmall()
    # Eight in a row say something however small each is.
    assert drawn(p_chart(of([1, 0] * 3 + [1] * 9, 1))).out


def test_of_what_stands_in_no_order_only_the_limits_speak() -> None:
    counts = [1] * 10 + [2] * 10 + [30]
    ordered, beside = (drawn(make(of(counts, 50))) for make in (p_chart, side_by_side))

    assert Signal.RUN in {signal for each in ordered.out for signal in each.signals}
    assert [(each.subgroup.name, each.signals) for each in beside.out] == [("21", (Signal.ABOVE,))]
    assert side_by_side(of([1] * 3, 9)) == TooFewPoints(points=3)
