from xml.etree import ElementTree as ET

from app.reports.canvas import GAP, Stroke
from app.reports.plots import SCREEN, Bar, Mark, Plot, Shape, Trace, draw_png, draw_svg

PLOT = Plot(
    title="One point is out",
    head="Findings",
    end=(10, 4),
    across=((0, "January"), (5, "June"), (10, "December")),
    up=((0, "0"), (4, "4")),
    traces=(Trace(points=((0, 2), (5, 2), GAP, (6, 1), (10, 1)), stroke=Stroke.DASHED),),
    marks=(Mark(at=(3, 3), shape=Shape.DOT, between=(2, 4)), Mark(at=(9, 4), shape=Shape.DIAMOND)),
    bars=(Bar(row=1, length=7, words="7"),),
    keys=((Shape.DIAMOND, "out"), (Stroke.DASHED, "limit")),
)


def _read(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  # drawn a moment ago


def test_a_plot_says_everything_in_words_and_shapes_and_nothing_by_colour_or_style() -> None:
    svg = _read(draw_svg(PLOT))
    words = [each.text for each in svg.iter("text")]

    assert {"January", "December", "0", "4", "7", "out", "limit", "Findings"} <= {*words}
    assert svg.findtext("title") == "One point is out"
    assert svg.get("role") == "img"
    drawn = [each for each in svg.iter() if each is not svg]
    assert {each.tag for each in drawn} == {"title", "text", "path"}
    kept = {value for each in drawn for name, value in each.attrib.items() if name in {"fill", "stroke"}}
    assert kept <= {"currentColor", "none"}
    assert not any("style" in each.attrib or "class" in each.attrib for each in drawn)


def test_a_point_that_is_out_is_filled_and_an_open_one_is_not() -> None:
    def filled(shape: Shape) -> list[str | None]:
        plot = Plot(title="", end=(1, 1), marks=(Mark(at=(1, 1), shape=shape),))
        return [each.get("fill") for each in _read(draw_svg(plot)).iter("path")]

    assert sorted(filled(Shape.DIAMOND), key=str) == [None, "currentColor"]
    assert filled(Shape.SQUARE) == [None, None]


def test_the_same_plot_is_the_same_text_and_the_same_pixels() -> None:
    assert draw_svg(PLOT) == draw_svg(PLOT)
    assert draw_png(PLOT, SCREEN) == draw_png(PLOT, SCREEN)
    assert draw_png(PLOT, SCREEN).startswith(b"\x89PNG\r\n")


def test_words_below_a_tick_do_not_lead_over_an_edge() -> None:
    svg = _read(draw_svg(PLOT))
    anchors = {each.text: each.get("text-anchor") for each in svg.iter("text")}

    assert anchors["December"] == "end"
    assert (anchors["January"], anchors["June"]) == ("start", "middle")


def test_from_the_top_the_first_row_is_the_upper_one() -> None:
    def height(plot: Plot) -> dict[str | None, float]:
        svg = _read(draw_svg(plot))
        return {each.text: float(each.get("y", "")) for each in svg.iter("text")}

    rows = ((0.5, "first"), (1.5, "second"))
    up = height(Plot(title="", end=(1, 2), up=rows))
    down = height(Plot(title="", end=(1, 2), up=rows, from_top=True))

    assert up["first"] > up["second"]
    assert down["first"] < down["second"]
