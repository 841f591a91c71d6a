"""A sheet to draw on, as SVG: the one place that knows the charting library.

Nothing on it tells by colour: lines differ by their strokes, marks by their shapes, and all take the colour
of the text around them. There is no inline style, which the pages' policy would refuse.
"""

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from math import nan
from pathlib import Path
from threading import Lock
from types import SimpleNamespace
from xml.etree import ElementTree as ET

_SVG = "http://www.w3.org/2000/svg"
FONT = "Countersign Text"
_KEPT = ("stroke-width", "stroke-dasharray")
# The library keeps fonts and settings that two threads must not use at once.
ONE_AT_A_TIME = Lock()

Point = tuple[float, float]
GAP: Point = (nan, nan)


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


class Svg(str):
    """An `svg` element that this program made: a template puts it in as it is."""

    __slots__ = ()

    def __html__(self) -> str:
        """What templates ask for."""
        return self


@cache
def library() -> SimpleNamespace:
    """Loaded late: it takes half a second, and only pages with a picture need it."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.font_manager import FontProperties  # noqa: PLC0415
    from matplotlib.lines import Line2D  # noqa: PLC0415
    from matplotlib.patches import Polygon  # noqa: PLC0415
    from matplotlib.transforms import Affine2D, Bbox, BboxTransform  # noqa: PLC0415

    mpl.rcParams.update({"svg.fonttype": "none", "svg.hashsalt": "countersign"})
    # The words are set in the page's own font. The library measures them by the one that it brings along, so
    # that a drawing does not depend on the fonts of the machine.
    measured_by = Path(mpl.get_data_path(), "fonts", "ttf", "DejaVuSans.ttf")
    return SimpleNamespace(
        Figure=Figure,
        Canvas=FigureCanvasSVG,
        Pixels=FigureCanvasAgg,
        Line=Line2D,
        Polygon=Polygon,
        Bbox=Bbox,
        Place=BboxTransform,
        Scaled=Affine2D,
        font=lambda size: FontProperties(family=FONT, fname=measured_by, size=size),
    )


class Sheet:
    """One drawing in pt. The library's own axes take three times as long as all the rest."""

    def __init__(self, size: Size, *, pixels_in_pt: int = 1) -> None:
        self.library = library()
        inches = (size.width / 72, size.height / 72)
        self._figure = self.library.Figure(figsize=inches, dpi=72 * pixels_in_pt)
        self._in_pt = self.library.Scaled().scale(pixels_in_pt)
        self._figure.patch.set_visible(False)
        self._font = self.library.font(size.letters)
        self._size = size
        # All thin lines are one line with gaps: each thing that is drawn takes its time.
        self.thin: list[Point] = []

    def draw_thin(self) -> None:
        """Draw what has been gathered as thin lines; what is drawn later lies above them."""
        self.line(self.thin, Stroke.THIN)

    def line(self, points: Sequence[Point], stroke: Stroke, place: object = None) -> None:
        """A line, in pt or by a place on the sheet."""
        width, dashes = stroke.value
        line = self.library.Line(
            [x for x, _ in points],
            [y for _, y in points],
            color="black",
            linewidth=width,
            linestyle=(0, dashes) if dashes else "-",
            solid_capstyle="butt",
            transform=place or self._in_pt,
        )
        self._figure.add_artist(line)

    def shape(self, points: Sequence[Point], *, filled: bool) -> None:
        """A closed shape, in pt."""
        self._figure.add_artist(
            self.library.Polygon(
                points,
                closed=True,
                facecolor="black" if filled else "none",
                edgecolor="black",
                linewidth=1,
                transform=self._in_pt,
            )
        )

    def words(self, at: Point, words: str, align: str) -> None:
        """Words that begin, end or have their middle at a point."""
        self._figure.text(
            *at,
            words,
            ha=align,
            va="baseline",
            fontproperties=self._font,
            transform=self._in_pt,
            parse_math=False,
        )

    def svg(self, title: str) -> Svg:
        """The drawing as one `svg` element, with what it says."""
        written = io.BytesIO()
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        self.library.Canvas(self._figure).print_svg(written, metadata=nothing)
        return Svg(_plain(written.getvalue(), title, self._size))

    def png(self) -> bytes:
        """The drawing as pixels on white."""
        self._figure.patch.set_visible(True)
        written = io.BytesIO()
        self.library.Pixels(self._figure).print_png(written, metadata={"Software": None})
        return written.getvalue()


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
            # Black is what the library leaves out.
            if style.get("fill") != "none":
                kept["fill"] = "currentColor"
            ET.SubElement(svg, "path", {"d": _short(each.get("d", "")), **kept})
        elif each.tag == f"{{{_SVG}}}text":
            place = {"x": _short(each.get("x", "")), "y": _short(each.get("y", ""))}
            plain = {"fill": "currentColor", "stroke": "none", "text-anchor": style["text-anchor"]}
            ET.SubElement(svg, "text", {**place, **plain}).text = each.text
    # What follows the title is another sentence.
    return ET.tostring(svg, encoding="unicode").replace("</title>", "</title>\n", 1)


def _short(numbers: str) -> str:
    """A path or a place to a tenth of a point."""
    return re.sub(r"\d+\.\d+", lambda found: f"{float(found[0]):.1f}", " ".join(numbers.split()))
