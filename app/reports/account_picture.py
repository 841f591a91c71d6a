"""Where each millilitre of a syringe went, as a picture: one bar, and below it what its parts are.

A part is told by its hatching, never by a colour. Nobody reads a figure off the bar: each stands in words
beside the sample of its hatching. Only here do exact volumes become tenths of a point.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from xml.etree import ElementTree as ET

from app.reports.canvas import FONT, Svg

_WIDTH, _LETTERS, _ROW = 340, 13, 20
_BAR, _SAMPLE, _EDGE = 34, 14, 1
_GAP = 5


class Hatching(Enum):
    """How a part is filled: by lines that run across, down, or both, by so many points; or all of it."""

    FULL = "full"
    EMPTY = "empty"
    RISING = "rising"
    FALLING = "falling"
    ACROSS = "across"
    DOWN = "down"
    CROSSED = "crossed"
    DOTTED = "dotted"
    # Nobody knows.
    OPEN = "open"


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of what was in a syringe: its share of the bar, and the words beside its sample."""

    volume: Fraction
    hatching: Hatching
    words: str
    figure: str


def bar_of(parts: Iterable[Part], *, whole: Fraction, says: str) -> Svg:
    """The picture of one syringe; `says` is the same in a sentence. More than the whole makes it longer."""
    drawn = [each for each in parts if each.volume > 0]
    full = max(whole, sum((each.volume for each in drawn), Fraction(0)))
    height = _BAR + 2 * _EDGE + _ROW * len(drawn) + _GAP
    svg = ET.Element(
        "svg",
        {
            "class": "chart",
            "role": "img",
            "viewBox": f"0 0 {_WIDTH} {height}",
            "fill": "none",
            "stroke": "currentColor",
            "font-family": FONT,
            "font-size": str(_LETTERS),
        },
    )
    ET.SubElement(svg, "title").text = says
    left = Fraction(_EDGE)
    for each in drawn:
        width = each.volume / full * (_WIDTH - 2 * _EDGE)
        _fill(svg, (left, Fraction(_EDGE)), (width, Fraction(_BAR)), each.hatching)
        left += width
    for number, each in enumerate(drawn):
        top = _BAR + 2 * _EDGE + _GAP + _ROW * number
        _fill(
            svg, (Fraction(_EDGE), Fraction(top + 2)), (Fraction(_SAMPLE), Fraction(_SAMPLE)), each.hatching
        )
        baseline = top + 2 + _LETTERS
        _words(svg, (_SAMPLE + 8, baseline), each.words, "start")
        _words(svg, (_WIDTH - _EDGE, baseline), each.figure, "end")
    return Svg(ET.tostring(svg, encoding="unicode"))


_Pair = tuple[Fraction, Fraction]


def _fill(svg: ET.Element, at: _Pair, size: _Pair, hatching: Hatching) -> None:
    place = {name: _short(value) for name, value in zip("xy", at, strict=True)}
    sizes = {name: _short(value) for name, value in zip(("width", "height"), size, strict=True)}
    filled = {"fill": "currentColor"} if hatching is Hatching.FULL else {}
    open_line = {"stroke-dasharray": "4 3"} if hatching is Hatching.OPEN else {}
    ET.SubElement(svg, "rect", {**place, **sizes, **filled, **open_line, "stroke-width": "1.2"})
    path = " ".join(
        f"M{_short(at[0] + x)} {_short(at[1] + y)}L{_short(at[0] + to_x)} {_short(at[1] + to_y)}"
        for (x, y), (to_x, to_y) in _lines(size, hatching)
    )
    if path:
        dashes = {"stroke-dasharray": "1 4"} if hatching is Hatching.DOTTED else {}
        ET.SubElement(svg, "path", {"d": path, "stroke-width": "1", **dashes})


def _lines(size: _Pair, hatching: Hatching) -> Iterator[tuple[_Pair, _Pair]]:
    width, height = size
    if hatching in (Hatching.ACROSS, Hatching.CROSSED, Hatching.DOTTED):
        yield from (((Fraction(0), y), (width, y)) for y in _steps(height))
    if hatching in (Hatching.DOWN, Hatching.CROSSED):
        yield from (((x, Fraction(0)), (x, height)) for x in _steps(width))
    if hatching in (Hatching.RISING, Hatching.FALLING):
        for foot in _steps(width + height):
            # At 45 degrees, from the left or the lower edge to the upper or the right one.
            begin, end = max(Fraction(0), foot - height), min(foot, width)
            ys = foot - begin, foot - end
            up, down = ys if hatching is Hatching.RISING else (height - ys[0], height - ys[1])
            yield (begin, up), (end, down)


def _steps(length: Fraction) -> Iterator[Fraction]:
    return (Fraction(each) for each in range(_GAP, int(length) + 1, _GAP))


def _words(svg: ET.Element, at: tuple[int, int], words: str, anchor: str) -> None:
    place = {"x": str(at[0]), "y": str(at[1]), "text-anchor": anchor}
    ET.SubElement(svg, "text", {**place, "fill": "currentColor", "stroke": "none"}).text = words


def _short(value: Fraction) -> str:
    """To a tenth of a point."""
    tenths = round(value * 10)
    return f"{tenths // 10}.{tenths % 10}"
