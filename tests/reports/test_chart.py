"""The picture of the worst case, its sentence and its table; and the code on the paper, read by a reader."""

import io
import itertools
import re
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pikepdf
import pytest
import zxingcpp

from app.reports.canvas import Line, Size, Stroke
from app.reports.chart import Chart, For, charts_of
from app.reports.drawing import Picture, draw
from app.reports.square_code import square_code
from tests.comparison.builders import case_with
from tests.reports import told

LIMIT = {"AB.settings.limit": {"amount": "6 mg", "window": "4 h"}}
FIVEFOLD = {**LIMIT, "AB.label.amount": "250 mg"}


def chart(changes: dict[str, Any], laid_out: For = For.SCREEN) -> Chart:
    (only,) = charts_of(case_with(changes), laid_out).values()
    return only


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  # made a moment ago


def dashes(svg: str) -> list[str | None]:
    """The strokes of all lines but the thin ones, and without the samples at their names."""
    lines = [each for each in parsed(svg).iter("path") if float(each.attrib["stroke-width"]) > 1]
    return [each.get("stroke-dasharray") for each in lines[: len(lines) // 2]]


def words(svg: str) -> list[str]:
    return [each.text or "" for each in parsed(svg).iter("text")]


def test_where_nothing_differs_one_line_is_drawn_beside_the_limit() -> None:
    made = chart(LIMIT)

    assert len(dashes(made.svg)) == 2
    assert made.alike
    # Six demands of 1 mg in the first 60 min, and no other before 240 min.
    assert made.says == (
        "Most that could be given, pressed at every chance: as ordered and as set 6 mg in 1 h and 6 mg in "
        "4 h; limit 6 mg in 4 h; demands are first refused from 60 min on, for 3 h."
    )
    assert "refused for 3 h" in words(made.svg)


def test_a_stronger_syringe_is_a_line_of_its_own_with_another_stroke() -> None:
    made = chart(FIVEFOLD)
    ordered, given, limit = dashes(made.svg)

    assert len({ordered, given, limit}) == 3
    assert not made.alike
    assert [(row.time, row.ordered, row.given) for row in made.rows] == [
        ("1 h", "6 mg", "30 mg"),
        ("2 h", "6 mg", "30 mg"),
        ("4 h", "6 mg", "30 mg"),
    ]
    assert "as set, with this syringe 30 mg in 1 h" in made.says


def test_without_a_limit_nothing_is_refused() -> None:
    made = chart({})

    assert "refused" not in made.says + made.svg
    assert dashes(made.svg) == [None]


def test_another_drug_is_drawn_as_ordered_alone() -> None:
    made = chart({**LIMIT, "AB.label.drug": "HYDROmorphone"})

    assert {row.given for row in made.rows} == {""}
    assert "as set" not in made.says


def test_two_who_read_otherwise_get_a_picture_each() -> None:
    case = case_with({**LIMIT, "B.device.lockout": "5 min"})

    assert list(charts_of(case, For.SCREEN)) == ["A", "B"]
    assert list(charts_of(case_with(LIMIT), For.SCREEN)) == [""]


def test_what_was_not_read_gets_none() -> None:
    assert charts_of(case_with({**LIMIT, "AB.settings.mode": "continuous"}), For.SCREEN) == {}


def test_a_case_that_was_never_compared_is_a_bug() -> None:
    with pytest.raises(ValueError, match="cannot be read"):
        charts_of({"format": "another"}, For.SCREEN)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (
            {"AB.settings.limit": {"amount": "30 mg", "window": "24 h"}},
            ["0 h", "6 h", "12 h", "18 h", "24 h"],
        ),
        ({"AB.settings.demand_dose": "2 mcg"}, ["0", "10 mcg", "20 mcg", "30 mcg", "40 mcg"]),
        ({"AB.settings.demand_dose": "0.02 mg"}, ["0", "0.1 mg", "0.2 mg", "0.3 mg", "0.4 mg"]),
    ],
)
def test_ticks_are_written_like_every_other_number(changes: dict[str, Any], expected: list[str]) -> None:
    made = words(chart(changes).svg)

    assert [each for each in made if each in expected] == expected


@pytest.mark.parametrize("laid_out", For)
def test_the_picture_needs_neither_colour_nor_style(laid_out: For) -> None:
    svg = chart(FIVEFOLD, laid_out).svg
    colours = {
        each.attrib[name] for each in parsed(svg).iter() for name in ("fill", "stroke") if name in each.attrib
    }

    assert colours == {"none", "currentColor"}
    assert not re.search(r"style|url\(|\bid=|href|script", svg)
    assert parsed(svg).findtext("title") == chart(FIVEFOLD, laid_out).says


def test_names_of_lines_that_end_together_do_not_touch() -> None:
    # Ordered, set and limit all end at 6 mg.
    svg = chart({**LIMIT, "AB.device.lockout": "5 min"}).svg
    right = [
        each
        for each in parsed(svg).iter("text")
        if each.attrib["text-anchor"] == "start" and each.text != "0 h"
    ]
    heights = sorted(float(each.attrib["y"]) for each in right)

    assert len(right) == 5
    assert all(below - above >= For.SCREEN.value.letters for above, below in itertools.pairwise(heights))
    assert heights[0] > 0
    assert heights[-1] < For.SCREEN.value.height


def test_the_shading_stays_inside_its_span() -> None:
    size = Size(width=200, height=100, letters=10, names=50)
    line = Line(points=((0, 0), (10, 10)), stroke=Stroke.SOLID, name="a line")
    picture = Picture(title="", lines=(line,), shaded=(), shaded_name="", across=(), up=(), end=(10.0, 10.0))

    bare = thin(draw(picture, size))
    shaded = thin(draw(replace(picture, shaded=((5.0, 8.0),), shaded_name="refused"), size))
    across = [x for x, _ in set(shaded) - set(bare)]

    # The axes stand between 44 and 150.
    assert len(across) > 10
    assert 44 + 53 - 0.1 <= min(across) <= 44 + 53 + 5
    assert max(across) <= 44 + 0.8 * 106 + 0.1


def thin(svg: str) -> list[tuple[float, float]]:
    path = next(each for each in parsed(svg).iter("path") if each.attrib["stroke-width"] == "0.5")
    numbers = [float(each) for each in re.findall(r"[\d.]+", path.attrib["d"])]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


@pytest.fixture(scope="module")
def page() -> bytes:
    return told.printed("clean")


def test_whoever_has_the_record_read_aloud_hears_picture_and_code(page: bytes) -> None:
    # ISO 19005-3, level A: a figure has its words.
    with pikepdf.open(io.BytesIO(page)) as pdf:
        said = [
            str(each.Alt)
            for each in pdf.objects
            if isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/Figure"
        ]

    (of_the_picture,) = charts_of(told.clean()["rounds"][-1]["case"], For.PAPER).values()
    pictures = [each for each in said if not each.startswith("Sign ")]
    assert sorted(pictures) == [of_the_picture.says, "Record, edition and digest, to be scanned"]
    assert "as ordered and as set 1.2 mg in 1 h and 2 mg in 4 h" in of_the_picture.says


def test_paper_leads_back_to_its_record(page: bytes, tmp_path: Path) -> None:
    document = told.clean()

    # 150 dots an inch in one bit: coarser than a fax in fine resolution, about 200 (ITU-T T.4).
    assert read_codes(page, tmp_path, 150) == [
        f"countersign:record/{document['record']}/{document['edition']}/{told.digest_of(document)}"
    ]
    assert read_codes(page, tmp_path, 30) == []


def read_codes(page: bytes, folder: Path, resolution: int) -> list[str]:
    """What another library reads off the first page, printed in one bit."""
    (folder / "page.pdf").write_bytes(page)
    command = ["pdftoppm", "-r", str(resolution), "-mono", "-singlefile", "page.pdf", "page"]
    subprocess.run(command, check=True, cwd=folder)
    head, width, height, rest = re.split(rb"\s", (folder / "page.pbm").read_bytes(), maxsplit=3)
    assert head == b"P4"
    line = (int(width) + 7) // 8
    # Eight dots a byte, one for black.
    dots = (f"{rest[row * line + at]:08b}" for row in range(int(height)) for at in range(line))
    grey = "".join(dots).replace("0", "\xff").replace("1", "\0").encode("latin-1")
    image = zxingcpp.ImageView(grey, line * 8, int(height), zxingcpp.ImageFormat.Lum)  # type: ignore[arg-type]  # any buffer
    return [each.text for each in zxingcpp.read_barcodes(image)]


def test_a_code_says_what_it_is_for_and_has_its_quiet_zone() -> None:
    code = parsed(square_code("A" * 20, "To be <scanned>"))
    _, path = code.iter("{http://www.w3.org/2000/svg}path")

    assert code.findtext("{http://www.w3.org/2000/svg}title") == "To be <scanned>"
    # ISO/IEC 18004: four modules on each side; version 1 has 21.
    assert code.attrib["viewBox"] == "0 0 29 29"
    assert path.attrib["d"].startswith("M4 4.5")
    assert "style" not in code.attrib
