"""Lines on axes as SVG: the one place that knows the charting library.

Nothing in the drawing tells by colour: lines differ by their strokes, carry their names at their ends, and
take the colour of the text around them. There is no inline style, which the pages' policy would refuse.
"""

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache, lru_cache
from math import ceil, nan
from pathlib import Path
from threading import Lock
from types import SimpleNamespace
from xml.etree import ElementTree as ET

_SVG = "http://www.w3.org/2000/svg"
FONT = "Countersign Text"
_ROW = 1.15
"""The height of a row of words, in letters."""
_SHADE_STEP = 5
_KEPT = ("stroke-width", "stroke-dasharray")
_SAMPLE = 15
# The library keeps fonts and settings that two threads must not use at once.
_ONE_AT_A_TIME = Lock()

Point = tuple[float, float]
_GAP: Point = (nan, nan)


class Stroke(Enum):
    """How a line is drawn: width in pt, and its dashes."""

    SOLID = (1.8, ())
    DASHED = (1.8, (3, 1.2))
    DOTTED = (1.2, (1, 1.5))
    THIN = (0.5, ())


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line with its name, which may take several rows."""

    points: tuple[Point, ...]
    stroke: Stroke
    name: str


@dataclass(frozen=True, kw_only=True)
class Size:
    """All in pt: the drawing, the size of its letters, and the room on the right for the lines' names."""

    width: float
    height: float
    letters: float
    names: float


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


class Svg(str):
    """An `svg` element that this program made: a template puts it in as it is."""

    __slots__ = ()

    def __html__(self) -> str:
        """What templates ask for."""
        return self


@lru_cache(maxsize=32)
def draw(picture: Picture, size: Size) -> Svg:
    """The picture as one `svg` element: for the same picture the same text, on every run.

    Both nurses open the same comparison several times, so the last few are kept: shapes without a name.
    """
    with _ONE_AT_A_TIME:
        written = _Drawing(picture, size).written()
    return Svg(_plain(written, picture.title, size))


@cache
def _library() -> SimpleNamespace:
    """Loaded late: it takes half a second, and only pages with a picture need it."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.font_manager import FontProperties  # noqa: PLC0415
    from matplotlib.lines import Line2D  # noqa: PLC0415
    from matplotlib.transforms import Bbox, BboxTransform, IdentityTransform  # noqa: PLC0415

    mpl.rcParams.update({"svg.fonttype": "none", "svg.hashsalt": "countersign"})
    # The words are set in the page's own font. The library measures them by the one that it brings along, so
    # that a drawing does not depend on the fonts of the machine.
    measured_by = Path(mpl.get_data_path(), "fonts", "ttf", "DejaVuSans.ttf")
    return SimpleNamespace(
        Figure=Figure,
        Canvas=FigureCanvasSVG,
        Line=Line2D,
        Bbox=Bbox,
        Place=BboxTransform,
        in_pt=IdentityTransform(),
        font=lambda size: FontProperties(family=FONT, fname=measured_by, size=size),
    )


class _Drawing:
    """One drawing in pt. The library's own axes take three times as long as all the rest."""

    def __init__(self, picture: Picture, size: Size) -> None:
        self._library = _library()
        self._picture, self._size = picture, size
        self._figure = self._library.Figure(figsize=(size.width / 72, size.height / 72), dpi=72)
        self._figure.patch.set_visible(False)
        self._font = self._library.font(size.letters)
        # All thin lines are one line with gaps: each thing that is drawn takes its time.
        self._thin: list[Point] = []
        left, below, above = 4.4 * size.letters, 1.6 * size.letters, 1.5 * size.letters
        self._inside = self._library.Bbox.from_extents(
            left, below, size.width - size.names, size.height - above
        )
        axes = self._library.Bbox.from_extents(0, 0, *picture.end)
        self._place = self._library.Place(axes, self._inside)

    def written(self) -> bytes:
        """The drawing as the library writes it."""
        self._shade()
        self._axes()
        self._line(self._thin, Stroke.THIN)
        for line in self._picture.lines:
            self._line(line.points, line.stroke, self._place)
        self._names()
        written = io.BytesIO()
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        self._library.Canvas(self._figure).print_svg(written, metadata=nothing)
        return written.getvalue()

    def _shade(self) -> None:
        inside = self._inside
        for start, end in self._picture.shaded:
            left, right = (self._place.transform((each, 0))[0] for each in (start, end))
            for foot in range(ceil(left - inside.height), ceil(right), _SHADE_STEP):
                # A line at 45 degrees, as much of it as is inside.
                begin, stop = max(foot, left), min(foot + inside.height, right)
                points = [(each, inside.y0 + each - foot) for each in (begin, stop)]
                self._thin += [*points, _GAP]
        if self._picture.shaded:
            self._name_shaded(*self._picture.shaded[0])

    def _name_shaded(self, start: float, end: float) -> None:
        """Above the shading; near the right edge the words end at it, clear of the lines' names."""
        right, above = self._inside.x1, self._inside.y1 + 0.4 * self._size.letters
        middle = self._place.transform(((start + end) / 2, 0))[0]
        at, align = (right, "right") if right - middle < 6 * self._size.letters else (middle, "center")
        self._words((at, above), self._picture.shaded_name, align)

    def _axes(self) -> None:
        box = self._inside
        corner = [(box.x0, box.y1), (box.x0, box.y0), (box.x1, box.y0)]
        self._thin += [*corner, _GAP]
        for time, words in self._picture.across:
            x, y = self._place.transform((time, 0))
            self._thin += [(x, y), (x, y - 2), _GAP]
            # The words of the first tick begin at it, clear of the zero of the other axis.
            self._words((x, y - 1.3 * self._size.letters), words, "center" if time else "left")
        for amount, words in self._picture.up:
            x, y = self._place.transform((0, amount))
            self._thin += [(x - 2, y), (x, y), _GAP]
            self._words((x - 4, y - 0.35 * self._size.letters), words, "right")

    def _names(self) -> None:
        """Each line's name right of its end, moved apart where they would touch, with a bit of the line."""
        row = _ROW * self._size.letters
        right = self._inside.x1
        wanted = [self._place.transform(line.points[-1])[1] for line in self._picture.lines]
        heights = [row * (line.name.count("\n") + 1) for line in self._picture.lines]
        # The row above the axes is the shading's.
        top = self._inside.y1 + 0.2 * self._size.letters if self._picture.shaded else self._size.height
        for line, middle, height in zip(
            self._picture.lines, _moved_apart(wanted, heights, top), heights, strict=True
        ):
            self._line([(right + 2, middle), (right + _SAMPLE, middle)], line.stroke)
            for number, words in enumerate(line.name.split("\n")):
                baseline = middle + height / 2 - (number + 0.8) * row
                self._words((right + _SAMPLE + 3, baseline), words, "left")

    def _line(self, points: Sequence[Point], stroke: Stroke, place: object = None) -> None:
        width, dashes = stroke.value
        line = self._library.Line(
            [x for x, _ in points],
            [y for _, y in points],
            color="black",
            linewidth=width,
            linestyle=(0, dashes) if dashes else "-",
            solid_capstyle="butt",
            transform=place or self._library.in_pt,
        )
        self._figure.add_artist(line)

    def _words(self, at: Point, words: str, align: str) -> None:
        self._figure.text(
            *at,
            words,
            ha=align,
            va="baseline",
            fontproperties=self._font,
            transform=self._library.in_pt,
            parse_math=False,
        )


def _moved_apart(wanted: Sequence[float], heights: Sequence[float], top: float) -> list[float]:
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


def _plain(written: bytes, title: str, size: Size) -> str:
    """Lines and words alone, without the library's styles, in the colour of the text around them."""
    svg = ET.Element(
        "svg",
        {
            "class": "chart",
            "role": "img",
            "viewBox": f"0 0 {size.width:g} {size.height:g}",
            "fill": "none",
            "stroke": "currentColor",
            "font-family": FONT,
            "font-size": f"{size.letters:g}",
        },
    )
    ET.SubElement(svg, "title").text = title
    for each in ET.fromstring(written).iter():  # noqa: S314  # written by the library a moment ago
        style = dict(part.split(": ") for part in each.get("style", "").split("; ") if part)
        if each.tag == f"{{{_SVG}}}path":
            kept: dict[str, str] = {name: style[name] for name in _KEPT if name in style}
            ET.SubElement(svg, "path", {"d": _short(each.get("d", "")), **kept})
        elif each.tag == f"{{{_SVG}}}text":
            place = {"x": _short(each.get("x", "")), "y": _short(each.get("y", ""))}
            plain = {"fill": "currentColor", "stroke": "none", "text-anchor": style["text-anchor"]}
            ET.SubElement(svg, "text", {**place, **plain}).text = each.text
    return ET.tostring(svg, encoding="unicode")


def _short(numbers: str) -> str:
    """A path or a place to a tenth of a point."""
    return re.sub(r"\d+\.\d+", lambda found: f"{float(found[0]):.1f}", " ".join(numbers.split()))
