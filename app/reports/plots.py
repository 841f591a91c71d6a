"""Pictures of many points: control charts, bars and shares with their intervals.

A point tells by its shape what it is, and its words stand beside it or below: nothing tells by colour. Nobody
reads a figure off a picture: the same stands in a table beside it. Only here do figures become places.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from math import cos, pi, sin

from app.reports.canvas import GAP, ONE_AT_A_TIME, Point, Sheet, Size, Stroke, Svg

_LETTER, _BROAD = 0.5, 0.65
"""How wide a letter is on average, in its own size; and a digit or a capital."""
_ROW = 1.3
_SHARP = 3
"""Pixels for each pt."""


class Shape(Enum):
    """How a point is drawn: corners, the radius in pt, how far it is turned, and whether it is filled."""

    DOT = (12, 2.4, 0.0, True)
    DIAMOND = (4, 5.2, 0.0, True)
    SQUARE = (4, 4.0, pi / 4, False)
    TRIANGLE = (3, 4.4, pi / 2, False)


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A point, and what it lies between from side to side where that is drawn."""

    at: Point
    shape: Shape
    between: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Trace:
    """A line through points; a gap in it is a `GAP`."""

    points: tuple[Point, ...]
    stroke: Stroke


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A bar from the left edge to a length, in a row of its own, with words above it."""

    row: float
    length: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Plot:
    """What is drawn, from zero to `end` on both axes; `rows` runs the other way, its first row on top.

    `keys` say below what shapes and strokes mean; `head` stands above: what is drawn, in which measure.
    """

    title: str
    head: str = ""
    end: Point
    across: tuple[tuple[float, str], ...] = ()
    up: tuple[tuple[float, str], ...] = ()
    traces: tuple[Trace, ...] = ()
    marks: tuple[Mark, ...] = ()
    bars: tuple[Bar, ...] = ()
    keys: tuple[tuple[Shape | Stroke, str], ...] = ()
    from_top: bool = False


@dataclass(frozen=True, kw_only=True)
class Paper:
    """How wide and how high the drawing is, the words below left out, and the size of its letters; in pt."""

    width: float
    height: float
    letters: float


SCREEN = Paper(width=340, height=190, letters=13)


def draw_svg(plot: Plot, paper: Paper = SCREEN) -> Svg:
    """The picture as one `svg` element: for the same plot the same text, on every run."""
    with ONE_AT_A_TIME:
        return _Drawing(plot, paper, pixels_in_pt=1).sheet.svg(plot.title)


def draw_png(plot: Plot, paper: Paper) -> bytes:
    """The picture as pixels."""
    with ONE_AT_A_TIME:
        return _Drawing(plot, paper, pixels_in_pt=_SHARP).sheet.png()


class _Drawing:
    """One plot on a sheet."""

    def __init__(self, plot: Plot, paper: Paper, *, pixels_in_pt: int) -> None:
        self._plot, self._letters, self._width = plot, paper.letters, paper.width
        keys = len(plot.keys) * _ROW * paper.letters
        head = _ROW * paper.letters if plot.head else 0
        size = Size(width=paper.width, height=paper.height + keys + head, letters=paper.letters, names=0)
        self.sheet = Sheet(size, pixels_in_pt=pixels_in_pt)
        self._left = max((self._wide(words) for _, words in plot.up), default=0) + 8
        self._right = paper.width - _BROAD * paper.letters - 6
        self._below = keys + (1.8 if plot.across else 0.4) * paper.letters
        self._above = size.height - head - 0.8 * paper.letters
        if plot.head:
            self.sheet.words((2, size.height - paper.letters), plot.head, "left")
        self._axes()
        self._bars()
        for mark in plot.marks:
            self.sheet.thin += self._between(mark)
        self.sheet.draw_thin()
        for trace in plot.traces:
            self.sheet.line([self._place(each) for each in trace.points], trace.stroke)
        for mark in plot.marks:
            self._shape(self._place(mark.at), mark.shape)
        self._keys()

    def _place(self, at: Point) -> Point:
        x, y = (each / end for each, end in zip(at, self._plot.end, strict=True))
        if self._plot.from_top:
            y = 1 - y
        return (
            self._left + x * (self._right - self._left),
            self._below + y * (self._above - self._below),
        )

    def _axes(self) -> None:
        corner = [(self._left, self._above), (self._left, self._below), (self._right, self._below)]
        self.sheet.thin += [*corner, GAP]
        for value, words in self._plot.across:
            x = self._place((value, 0))[0]
            self.sheet.thin += [(x, self._below), (x, self._below - 2), GAP]
            self.sheet.words((x, self._below - 1.3 * self._letters), words, self._align(x, words))
        for value, words in self._plot.up:
            y = self._place((0, value))[1]
            self.sheet.thin += [(self._left - 2, y), (self._left, y), GAP]
            self.sheet.words((self._left - 4, y - 0.35 * self._letters), words, "right")

    def _align(self, x: float, words: str) -> str:
        """In the middle below its tick, but where that would lead over an edge."""
        half = self._wide(words) / 2
        if x + half > self._width:
            return "right"
        return "center" if x >= half else "left"

    def _wide(self, words: str) -> float:
        broad = sum(each.isdigit() or each.isupper() for each in words)
        return self._letters * (_BROAD * broad + _LETTER * (len(words) - broad))

    def _bars(self) -> None:
        for bar in self._plot.bars:
            (left, middle), (right, _) = self._place((0, bar.row)), self._place((bar.length, bar.row))
            above, below = middle - 0.15 * self._letters, middle - 0.9 * self._letters
            self.sheet.shape([(left, below), (right, below), (right, above), (left, above)], filled=True)
            self.sheet.words((left + 4, middle + 0.1 * self._letters), bar.words, "left")

    def _between(self, mark: Mark) -> list[Point]:
        if mark.between is None:
            return []
        return [*(self._place((each, mark.at[1])) for each in mark.between), GAP]

    def _shape(self, at: Point, shape: Shape) -> None:
        corners, radius, turned, filled = shape.value
        self.sheet.shape(list(_around(at, corners, radius, turned)), filled=filled)

    def _keys(self) -> None:
        row = _ROW * self._letters
        for number, (shown, words) in enumerate(reversed(self._plot.keys)):
            middle = (number + 0.45) * row
            if isinstance(shown, Shape):
                self._shape((self._left + 9, middle), shown)
            else:
                self.sheet.line([(self._left, middle), (self._left + 18, middle)], shown)
            self.sheet.words((self._left + 24, middle - 0.35 * self._letters), words, "left")


def _around(at: Point, corners: int, radius: float, turned: float) -> Iterable[Point]:
    for number in range(corners):
        angle = turned + 2 * pi * number / corners
        yield (at[0] + radius * cos(angle), at[1] + radius * sin(angle))
