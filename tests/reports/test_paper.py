"""In one bit, as a fax or a worn printer has it, the marks are still different shapes; all is black."""

import io
import itertools
import re
import subprocess
from pathlib import Path

import pypdf
import pytest
from jinja2 import Environment

from app.config import root
from app.reports.pdf import make_pdf
from app.reports.record import record_page
from app.words.names import INVENTED_RULES
from tests.reports import told

KINDS = ("agrees", "differs", "consider", "not-entered", "stop")
SIDE_MM = 12


@pytest.fixture(scope="module")
def bitmaps(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[bool]]:
    """Every shape alone, at 300 dots an inch in one bit."""
    folder = tmp_path_factory.mktemp("marks")
    return {kind: one_bit(page_with(kind), folder / kind) for kind in KINDS}


def page_with(kind: str) -> bytes:
    marks = (root() / "templates" / "reports" / "marks.html").read_text(encoding="utf-8")
    alone = "{{ shape(kind) }}"
    if kind == "stop":
        alone = '{{ mark({"shape": "differs", "word": "", "plate": "5"}) }}'
    page = Environment(autoescape=True).from_string(marks + alone).render(kind=kind)
    sheet = (root() / "templates" / "reports" / "record.css").read_text(encoding="utf-8")
    bare = " ".join(f"@{place} {{ content: none }}" for place in ("bottom-left", "bottom-right"))
    return make_pdf(page, sheet, f"@page {{ size: {SIDE_MM}mm; margin: 2mm; {bare} }}")


def one_bit(content: bytes, path: Path) -> list[bool]:
    path.with_suffix(".pdf").write_bytes(content)
    command = ["pdftoppm", "-r", "300", "-mono", "-singlefile", str(path.with_suffix(".pdf")), str(path)]
    subprocess.run(command, check=True)
    # A portable bitmap (P4): width and height in text, then eight dots a byte, one for black.
    head, width, height, rest = re.split(rb"\s", path.with_suffix(".pbm").read_bytes(), maxsplit=3)
    assert head == b"P4"
    line = (int(width) + 7) // 8
    return [
        bool(rest[row * line + column // 8] >> (7 - column % 8) & 1)
        for row in range(int(height))
        for column in range(int(width))
    ]


@pytest.mark.parametrize(("one", "other"), list(itertools.combinations(KINDS, 2)))
def test_two_marks_are_different_shapes(one: str, other: str, bitmaps: dict[str, list[bool]]) -> None:
    first, second = bitmaps[one], bitmaps[other]
    black = min(sum(first), sum(second))
    different = sum(a != b for a, b in zip(first, second, strict=True))

    assert black > 100
    assert different > black / 2


def test_the_same_mark_is_the_same_shape(tmp_path: Path, bitmaps: dict[str, list[bool]]) -> None:
    assert one_bit(page_with("differs"), tmp_path / "again") == bitmaps["differs"]


def test_nothing_is_printed_in_grey_or_in_colour() -> None:
    colours = set()
    for page in pypdf.PdfReader(io.BytesIO(told.printed("cautions"))).pages:
        contents = page.get_contents()
        assert contents is not None
        for operands, operator in contents.operations:
            if operator in (b"rg", b"RG", b"sc", b"SC", b"scn", b"SCN", b"g", b"G", b"k", b"K"):
                colours.add(tuple(float(each) for each in operands))

    assert colours <= {(0.0, 0.0, 0.0), (1.0, 1.0, 1.0)}
    assert colours


def test_each_page_that_was_made_under_invented_rules_says_so_in_its_head() -> None:
    for page in pypdf.PdfReader(io.BytesIO(told.printed("cautions"))).pages:
        assert INVENTED_RULES in page.extract_text()


def test_a_record_under_a_sites_own_rules_says_nothing_of_it() -> None:
    own = {**told.cautions(), "invented": False}
    page = record_page(own, digest=told.digest_of(own), signatures=told.signed(own))

    assert INVENTED_RULES not in page
