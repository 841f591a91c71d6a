"""The picture of a worst case: lines on axes, with a name at the end of each."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil

from app.reports.canvas import GAP, ONE_AT_A_TIME, Line, Point, Sheet, Size, Svg

ROW = 1.15
"""The height of a row of words, in letters."""
_SHADE_STEP = 5
_SAMPLE = 15


@dataclass(frozen=True, kw_only=True)
class Picture:
    """What is drawn; `across` and `up` are ticks with their words, `end` the far corner of the axes."""

    title: str
    lines: tuple[Line, ...]
    shaded: tuple[Point, ...]
    shaded_name: str
    across: tuple[tuple[float, str], ...]
    up: tuple[tuple[float, str], ...]
    end: Point


@lru_cache(maxsize=32)
def draw(picture: Picture, size: Size) -> Svg:
    """The picture as one `svg` element: for the same picture the same text, on every run.

    Both nurses open the same comparison several times, so the last few are kept: shapes without a name.
    """
    with ONE_AT_A_TIME:
        return _Drawing(picture, size).drawn()


class _Drawing:
    """One picture on a sheet."""

    def __init__(self, picture: Picture, size: Size) -> None:
        self._sheet = Sheet(size)
        self._picture, self._size = picture, size
        left, below, above = 4.4 * size.letters, 1.6 * size.letters, 1.5 * size.letters
        boxes = self._sheet.library
        self._inside = boxes.Bbox.from_extents(left, below, size.width - size.names, size.height - above)
        axes = boxes.Bbox.from_extents(0, 0, *picture.end)
        self._place = boxes.Place(axes, self._inside)

    def drawn(self) -> Svg:
        """The drawing with what it says."""
        self._shade()
        self._axes()
        self._sheet.draw_thin()
        for line in self._picture.lines:
            self._sheet.line(line.points, line.stroke, self._place)
        self._names()
        return self._sheet.svg(self._picture.title)

    def _shade(self) -> None:
        inside = self._inside
        for start, end in self._picture.shaded:
            left, right = (self._place.transform((each, 0))[0] for each in (start, end))
            for foot in range(ceil(left - inside.height), ceil(right), _SHADE_STEP):
                # A line at 45 degrees, as much of it as is inside.
                begin, stop = max(foot, left), min(foot + inside.height, right)
                points = [(each, inside.y0 + each - foot) for each in (begin, stop)]
                self._sheet.thin += [*points, GAP]
        if self._picture.shaded:
            self._name_shaded(*self._picture.shaded[0])

    def _name_shaded(self, start: float, end: float) -> None:
        """Above the shading; near the right edge the words end at it, clear of the lines' names."""
        right, above = self._inside.x1, self._inside.y1 + 0.4 * self._size.letters
        middle = self._place.transform(((start + end) / 2, 0))[0]
        at, align = (right, "right") if right - middle < 6 * self._size.letters else (middle, "center")
        self._sheet.words((at, above), self._picture.shaded_name, align)

    def _axes(self) -> None:
        box = self._inside
        corner = [(box.x0, box.y1), (box.x0, box.y0), (box.x1, box.y0)]
        self._sheet.thin += [*corner, GAP]
        for time, words in self._picture.across:
            x, y = self._place.transform((time, 0))
            self._sheet.thin += [(x, y), (x, y - 2), GAP]
            # The words of the first tick begin at it, clear of the zero of the other axis.
            self._sheet.words((x, y - 1.3 * self._size.letters), words, "center" if time else "left")
        for amount, words in self._picture.up:
            x, y = self._place.transform((0, amount))
            self._sheet.thin += [(x - 2, y), (x, y), GAP]
            self._sheet.words((x - 4, y - 0.35 * self._size.letters), words, "right")

    def _names(self) -> None:
        """Each line's name right of its end, moved apart where they would touch, with a bit of the line."""
        row = ROW * self._size.letters
        right = self._inside.x1
        wanted = [self._place.transform(line.points[-1])[1] for line in self._picture.lines]
        heights = [row * (line.name.count("\n") + 1) for line in self._picture.lines]
        # The row above the axes is the shading's.
        top = self._inside.y1 + 0.2 * self._size.letters if self._picture.shaded else self._size.height
        for line, middle, height in zip(
            self._picture.lines, moved_apart(wanted, heights, top), heights, strict=True
        ):
            self._sheet.line([(right + 2, middle), (right + _SAMPLE, middle)], line.stroke)
            for number, words in enumerate(line.name.split("\n")):
                baseline = middle + height / 2 - (number + 0.8) * row
                self._sheet.words((right + _SAMPLE + 3, baseline), words, "left")


def moved_apart(wanted: Sequence[float], heights: Sequence[float], top: float) -> list[float]:
    """Middles as near to the wanted ones as rows of these heights allow, none outside 0 to `top`."""
    order = sorted(range(len(wanted)), key=lambda place: wanted[place])
    found, least = list(wanted), 0.0
    for place in order:
        found[place] = max(wanted[place], least + heights[place] / 2)
        least = found[place] + heights[place] / 2
    most = top
    for place in reversed(order):
        found[place] = min(found[place], most - heights[place] / 2)
        most = found[place] - heights[place] / 2
    return found
