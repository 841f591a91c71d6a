"""The study as a picture: for each kind of error a row, and in it what each way of checking caught."""

from collections.abc import Mapping
from fractions import Fraction

from app.reports.canvas import FONT
from app.reports.plots import Mark, Paper, Plot, Shape, draw_png, draw_svg
from app.review.intervals import Share, wilson
from app.review.plan import Findings
from app.review.study import Caught, Way
from app.words.study import ROWS, WAYS, percent

_SHAPES: Mapping[Way, Shape] = {
    Way.ONE: Shape.DOT,
    Way.PRIMED: Shape.SQUARE,
    Way.BLIND: Shape.TRIANGLE,
    Way.ENGINE: Shape.DIAMOND,
}
_APART = 0.2
_ROW = 30
_WIDTH, _LETTERS = 680, 11


def study_picture(found: Findings, shared: Fraction, *, as_pixels: bool) -> bytes:
    """The picture of one half of a study, as SVG or as PNG."""
    rows = list(ROWS.items())
    plot = Plot(
        title=_says(shared),
        head=_says(shared),
        end=(100, float(len(rows))),
        across=tuple((each, f"{each:g} %") for each in (0.0, 25.0, 50.0, 75.0, 100.0)),
        up=tuple((row + 0.5, words) for row, (_, words) in enumerate(rows)),
        marks=tuple(
            mark for row, (name, _) in enumerate(rows) for mark in _marks(row, found.caught[name, shared])
        ),
        keys=tuple((_SHAPES[way], WAYS[way]) for way in Way),
        from_top=True,
    )
    paper = Paper(width=_WIDTH, height=_ROW * len(rows), letters=_LETTERS)
    return draw_png(plot, paper) if as_pixels else _alone(draw_svg(plot, paper))


def _says(shared: Fraction) -> str:
    causes = f"one cause rules both in {percent(shared)} of checks" if shared else "the two are independent"
    return f"Simulated: share of errors that each way of checking catches (95 % intervals); {causes}"


def _alone(svg: str) -> bytes:
    """A file of its own says what it is, and stands on white wherever it is looked at."""
    alone = '<svg xmlns="http://www.w3.org/2000/svg" color="#000" style="background: #fff" '
    return svg.replace("<svg ", alone, 1).replace(FONT, f"{FONT}, sans-serif", 1).encode()


def _marks(row: int, caught: Caught) -> list[Mark]:
    marks = []
    for number, way in enumerate(Way):
        share = Share(count=caught.by[way], of=caught.made)
        interval = wilson(share).times(100)
        height = row + 0.5 + (number - 1.5) * _APART
        at = (float(share.value) * 100, height)
        marks.append(Mark(at=at, shape=_SHAPES[way], between=(interval.low, interval.high)))
    return marks
