"""Whoever has the paper read aloud hears every figure: the structure inside the PDF gives each its words."""

import io
from collections.abc import Iterator

import pikepdf
import pytest
from jinja2 import Environment

from app.config import root
from app.reports.pdf import make_pdf
from tests.auditing.test_verifying_followed import Told
from tests.auditing.test_verifying_followed import told as told_of_what_followed
from tests.reports.sealed import Story
from tests.reports.test_paper import KINDS

told = told_of_what_followed


def figures(content: bytes) -> list[str]:
    """The words of each figure in the structure tree (ISO 32000-1, 14.9.3); empty where it has none."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        return list(_figures(pdf.Root.StructTreeRoot.K))


def _figures(node: pikepdf.Object) -> Iterator[str]:
    if isinstance(node, pikepdf.Array):
        for each in node:
            yield from _figures(each)
    elif isinstance(node, pikepdf.Dictionary):
        if node.get("/S") == "/Figure":
            yield str(node.get("/Alt", "")).strip()
        if "/K" in node:
            yield from _figures(node.K)


def test_every_figure_of_a_record_has_its_words(story: Story) -> None:
    found = figures(story.sealed)
    assert len(found) > len(KINDS)
    assert "" not in found
    assert any(each.startswith("Most that could be given") for each in found)
    assert any("to be scanned" in each for each in found)


def test_every_figure_of_what_followed_has_its_words(told: Told) -> None:
    assert "" not in figures(told.kept.content)


@pytest.mark.parametrize("kind", KINDS)
def test_every_shape_has_words_of_its_own(kind: str) -> None:
    marks = (root() / "templates" / "reports" / "marks.html").read_text(encoding="utf-8")
    one = '{{ mark({"shape": kind, "word": "A word", "plate": ""}) }}{{ shape(kind) }}'
    page = Environment(autoescape=True).from_string(marks + one).render(kind=kind)
    found = figures(make_pdf(page))
    assert found
    assert "" not in found
