"""The pictures of the trends: control charts, gaps between rare events, bars, and how durations lie."""

from collections.abc import Sequence
from fractions import Fraction

from app.reports.canvas import GAP, Point, Stroke, Svg
from app.reports.plots import SCREEN, Bar, Mark, Paper, Plot, Shape, Trace, draw_svg
from app.review.between import BetweenChart
from app.review.charts import Chart
from app.review.durations import Spread
from app.review.single import SinglesChart

_ROW = 31
_STEPS = (1, 2, 5, 10)
# Rows of one picture, and letters of a name beside it.
_MOST_ROWS, _LONGEST = 12, 12


def control_picture(chart: Chart, says: str, *, head: str) -> Svg:
    """A control chart, each figure for a hundred; limits as steps, as each subgroup has its own."""
    values = [float(each.value) * 100 for each in chart.points]
    high = [each.high * 100 for each in chart.points]
    low = [each.low * 100 for each in chart.points]
    return _charted(
        values,
        [bool(each.signals) for each in chart.points],
        (low, float(chart.centre) * 100, high),
        names=[each.subgroup.name for each in chart.points],
        says=says,
        head=head,
    )


def between_picture(chart: BetweenChart, says: str, *, head: str) -> Svg:
    """How many lie between one rare event and the next."""
    limits = [chart.low] * len(chart.points), chart.median, [chart.high] * len(chart.points)
    return _charted(
        [float(each.gap.length) for each in chart.points],
        [bool(each.signals) for each in chart.points],
        limits,
        names=[each.gap.name for each in chart.points],
        says=says,
        head=head,
    )


def singles_picture(chart: SinglesChart, says: str, *, head: str) -> Svg:
    """Figures with their sign, each by itself; zero stands where the axis says so."""
    limits = (
        [float(chart.low)] * len(chart.points),
        float(chart.median),
        [float(chart.high)] * len(chart.points),
    )
    return _charted(
        [float(each.value) for each in chart.points],
        [bool(each.signals) for each in chart.points],
        limits,
        names=[each.name for each in chart.points],
        says=says,
        head=head,
    )


def shares_picture(chart: Chart, says: str, *, head: str) -> Svg:
    """Of things beside each other, a row each: the share for a hundred, and the limits that it is held to."""
    points = chart.points[:_MOST_ROWS]
    end = _rounded_up(max(100 * max(float(each.value), each.high) for each in points))
    marks = tuple(
        Mark(
            at=(100 * float(each.value), place + 0.5),
            shape=Shape.DIAMOND if each.signals else Shape.DOT,
            between=(100 * each.low, 100 * each.high),
        )
        for place, each in enumerate(points)
    )
    middle = 100 * float(chart.centre)
    return draw_svg(
        Plot(
            title=says,
            head=head,
            end=(end, float(len(points))),
            across=tuple((value, f"{value:g}") for value in (0.0, end / 2, end)),
            up=tuple((place + 0.5, _short(each.subgroup.name)) for place, each in enumerate(points)),
            traces=(Trace(points=((middle, 0), (middle, float(len(points)))), stroke=Stroke.DASHED),),
            marks=marks,
            keys=(
                (Shape.DIAMOND, "out of control"),
                (Shape.DOT, "in control; the line shows its limits"),
                (Stroke.DASHED, "all of them together"),
            ),
            from_top=True,
        ),
        _paper(len(points)),
    )


def _short(name: str) -> str:
    """The end of a long number is what tells it from others."""
    return name if len(name) <= _LONGEST else f"…{name[-_LONGEST + 1 :]}"


def _charted(
    values: Sequence[float],
    out: Sequence[bool],
    limits: tuple[Sequence[float], float, Sequence[float]],
    *,
    names: Sequence[str],
    says: str,
    head: str,
) -> Svg:
    low, middle, high = limits
    end, top = float(len(values)), _rounded_up(max(*values, *high))
    # What lies below zero has as much room as the rest needs.
    least = min(*values, *low)
    bottom = -_rounded_up(-least) if least < 0 else 0.0
    points = tuple((place + 0.5, value - bottom) for place, value in enumerate(values))
    return draw_svg(
        Plot(
            title=says,
            head=head,
            end=(end, top - bottom),
            across=tuple((place + 0.5, names[place]) for place in _ticks(len(names))),
            up=tuple((value - bottom, _figure(value)) for value in (bottom or top / 2, 0.0, top)),
            traces=(
                Trace(points=points, stroke=Stroke.THIN),
                Trace(points=((0, middle - bottom), (end, middle - bottom)), stroke=Stroke.DASHED),
                *(
                    Trace(points=_steps([at - bottom for at in each]), stroke=Stroke.DOTTED)
                    for each in (low, high)
                ),
            ),
            marks=tuple(
                Mark(at=at, shape=Shape.DIAMOND if is_out else Shape.DOT)
                for at, is_out in zip(points, out, strict=True)
            ),
            keys=(
                (Shape.DIAMOND, "out of control"),
                (Stroke.DASHED, "middle"),
                (Stroke.DOTTED, "limits"),
            ),
        )
    )


def _figure(value: float) -> str:
    return f"{value:g}".replace("-", "\N{MINUS SIGN}")


def _steps(limits: Sequence[float]) -> tuple[Point, ...]:
    """Level over each subgroup; a gap where it changes."""
    return tuple(
        point
        for place, value in enumerate(limits)
        for point in ((float(place), value), (place + 1.0, value), GAP)
    )


def _ticks(count: int) -> Sequence[int]:
    """The first, one in the middle and the last: more names do not fit on a phone."""
    return sorted({0, (count - 1) // 2, count - 1})


def bars_picture(rows: Sequence[tuple[str, int]], says: str) -> Svg:
    """How often each of several."""
    most = max(count for _, count in rows)
    bars = tuple(
        Bar(row=place + 0.5, length=count, words=f"{words}: {count}")
        for place, (words, count) in enumerate(rows)
    )
    return draw_svg(
        Plot(title=says, end=(float(most), float(len(rows))), bars=bars, from_top=True), _paper(len(rows))
    )


def spread_picture(rows: Sequence[tuple[str, Spread]], says: str) -> Svg:
    """Of each kind the half that lies in the middle, its median, and what nine of ten stay below."""
    end = _rounded_up(max(float(found.ninth) for _, found in rows) / 60)
    marks = []
    for place, (_, found) in enumerate(rows):
        row = place + 0.5
        first, third = (float(each) / 60 for each in found.quarters)
        marks.append(Mark(at=(_minutes(found.median), row), shape=Shape.DOT, between=(first, third)))
        marks.append(Mark(at=(_minutes(found.ninth), row), shape=Shape.TRIANGLE))
    return draw_svg(
        Plot(
            title=says,
            end=(end, float(len(rows))),
            across=tuple((value, f"{value:g} min") for value in (0.0, end / 2, end)),
            up=tuple((place + 0.5, words) for place, (words, _) in enumerate(rows)),
            marks=tuple(marks),
            keys=((Shape.DOT, "half, with the half in the middle"), (Shape.TRIANGLE, "nine of ten")),
            from_top=True,
        ),
        _paper(len(rows)),
    )


def _minutes(seconds: Fraction) -> float:
    return float(seconds) / 60


def _paper(rows: int) -> Paper:
    return Paper(width=SCREEN.width, height=_ROW * rows + 2 * SCREEN.letters, letters=SCREEN.letters)


def _rounded_up(most: float) -> float:
    """The end of an axis: 1, 2 or 5 times a power of ten, at least 1."""
    power = 1.0
    while power * 10 < most:
        power *= 10
    return next(step * power for step in _STEPS if step * power >= most)
