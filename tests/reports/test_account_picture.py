"""Where a syringe went, as a picture: told by hatching and words, never by a colour."""

from fractions import Fraction
from itertools import pairwise
from xml.etree.ElementTree import Element

import pytest

from app.reports.account_picture import Hatching, Part, bar_of
from tests.support.html import parse_html

WIDTH = 340
GIVEN = Part(volume=Fraction(9), hatching=Hatching.FULL, words="Given", figure="9 mL")
LEFT = Part(volume=Fraction(37, 2), hatching=Hatching.EMPTY, words="Left", figure="18.5 mL")
PRIMED = Part(volume=Fraction(5, 2), hatching=Hatching.DOWN, words="Primed", figure="2.5 mL")


def drawn(*parts: Part, whole: int = 30) -> Element:
    page = f"<!doctype html><title>t</title>{bar_of(parts, whole=Fraction(whole), says='All of it.')}"
    (svg,) = (each for each in parse_html(page).iter() if each.tag.endswith("svg"))
    return svg


def rects(svg: Element, *, samples: bool) -> list[tuple[float, float]]:
    """Where each begins and how wide it is: of the bar, or of the samples below it."""
    found = [each for each in svg.iter() if each.tag.endswith("rect")]
    return [
        (float(each.attrib["x"]), float(each.attrib["width"]))
        for each in found
        if (each.attrib["height"] == "14.0") is samples
    ]


def words(svg: Element) -> list[str]:
    return [each.text or "" for each in svg.iter() if each.tag.endswith("text")]


def test_the_bar_is_as_wide_as_what_was_in_it_and_each_part_as_its_share() -> None:
    bar = rects(drawn(PRIMED, GIVEN, LEFT), samples=False)
    assert [round(width / (WIDTH - 2) * 30, 1) for _, width in bar] == [2.5, 9.0, 18.5]
    assert all(round(x + width, 1) == next_x for (x, width), (next_x, _) in pairwise(bar))
    assert bar[-1][0] + bar[-1][1] == WIDTH - 1


def test_more_than_was_in_it_makes_it_no_wider() -> None:
    bar = rects(drawn(GIVEN, LEFT, whole=20), samples=False)
    assert round(sum(width for _, width in bar), 1) == WIDTH - 2


def test_each_part_is_said_beside_its_sample_and_nothing_that_is_not_there() -> None:
    nothing = Part(volume=Fraction(0), hatching=Hatching.RISING, words="Wasted", figure="0 mL")
    less = Part(volume=Fraction(-1), hatching=Hatching.CROSSED, words="Difference", figure="-1 mL")
    svg = drawn(GIVEN, nothing, LEFT, less)
    assert words(svg) == ["Given", "9 mL", "Left", "18.5 mL"]
    assert len(rects(svg, samples=True)) == 2


def test_it_has_a_name_in_words_and_no_colour_of_its_own() -> None:
    svg = drawn(*(Part(volume=Fraction(2), hatching=each, words="x", figure="2 mL") for each in Hatching))
    assert next(each.text for each in svg.iter() if each.tag.endswith("title")) == "All of it."
    assert svg.attrib["role"] == "img"
    inks = {each.attrib[name] for each in svg.iter() for name in ("fill", "stroke") if name in each.attrib}
    assert inks == {"none", "currentColor"}


@pytest.mark.parametrize("hatching", Hatching)
def test_each_hatching_differs_from_every_other_and_stays_inside(hatching: Hatching) -> None:
    def look(of: Hatching) -> list[tuple[str, str, str]]:
        part = Part(volume=Fraction(30), hatching=of, words="x", figure="30 mL")
        return [
            (each.attrib.get("d", ""), each.attrib.get("fill", ""), each.attrib.get("stroke-dasharray", ""))
            for each in drawn(part).iter()
        ]

    assert [other for other in Hatching if look(other) == look(hatching)] == [hatching]
    for path, *_ in look(hatching):
        places = [tuple(map(float, each.split())) for each in path.replace("M", "L").split("L") if each]
        assert all(0 <= x <= WIDTH and 0 <= y <= 100 for x, y in places)
