from fractions import Fraction

from app.reports.trend_pictures import bars_picture, between_picture, control_picture, spread_picture
from app.review.between import BetweenChart, g_chart
from app.review.charts import Chart, Subgroup, u_chart
from app.review.durations import Spread, spread


def chart(*counts: int) -> Chart:
    made = u_chart(
        [Subgroup(name=f"m{place}", count=count, size=Fraction(100)) for place, count in enumerate(counts)]
    )
    assert isinstance(made, Chart)
    return made


def test_a_point_out_of_control_is_drawn_otherwise_and_the_sentence_is_read_out() -> None:
    calm = control_picture(chart(*[10] * 9), "Nothing is out of control.", head="per 100 checks")
    out = control_picture(chart(*[10] * 8, 60), "One is out of control.", head="")

    # Its own key and the one point more.
    assert out.count('fill="currentColor"') > 0
    assert "<title>One is out of control.</title>" in out
    assert [each in calm for each in ("m0", "m4", "m8", "m1<")] == [True, True, True, False]
    assert "style=" not in out


def test_gaps_bars_and_durations_are_drawn_from_the_same_figures_each_time() -> None:
    gaps = g_chart([(str(place), gap) for place, gap in enumerate([30, 60] * 5)])
    lasting = spread([60, 120, 600])
    assert isinstance(gaps, BetweenChart)
    assert isinstance(lasting, Spread)

    def drawn() -> list[str]:
        return [
            between_picture(gaps, "Between.", head="days"),
            bars_picture([("Label", 7), ("Device", 2)], "Which."),
            spread_picture([("Set-up", lasting)], "How long."),
        ]

    assert drawn() == drawn()
    between, bars, spreads = drawn()
    assert "upper" not in between
    assert "Label: 7" in bars
    assert "Set-up" in spreads
    assert ">10 min<" in spreads


def test_an_axis_ends_at_a_round_number_whatever_the_figures() -> None:
    def end(*counts: int) -> list[str]:
        return [
            each
            for each in ("5", "10", "20", "50", "100")
            if f">{each}<" in control_picture(chart(*counts), "", head="")
        ]

    # The limit of 100 a hundred lies at 130, that of 10 at 19.5; the middle of the axis has its own tick.
    assert end(*[100] * 9) == ["100"]
    assert end(*[10] * 9) == ["10", "20"]
