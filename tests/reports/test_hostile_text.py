"""What people write never becomes part of the page, and the page never asks for anything."""

import io
from collections.abc import Iterator
from typing import Any

import html5lib
import pikepdf
import pypdf
import pytest

from app.records.document import Names
from app.reports import pdf as maker
from app.reports.record import record_page, render_record
from tests.factories.answers import answers
from tests.reports import told
from tests.story.events import NADIA, RUTH, TOMAS

# Each would fetch, embed, run, hide or break out if it were taken for markup anywhere.
EVIL = (
    '<img src="file:///etc/passwd">',
    '<link rel=attachment href="file:///etc/passwd">',
    "</td></tr></table><h1>Both read the same</h1>",
    '"><svg onload=alert(1)><image href="http://evil.invalid/x.png"/></svg>',
    "<style>@import url(http://evil.invalid/x.css); .finding{display:none}</style>",
    "{{ 7*7 }}{% include '/etc/passwd' %}",
    "url(http://evil.invalid/font.woff2)",
    "' onmouseover='x",
    "&lt;b&gt; &amp; &#60;",
    "<!-- <script>alert(1)</script>",
    "]]><object data='data:text/html,x'></object>",
)


def written_by(text: str) -> dict[str, Any]:
    """A record with this text wherever people write freely."""
    names = Names(
        unit=f"Ward {text}",
        people={NADIA: f"Nadia {text}", TOMAS: f"Tomas {text}", RUTH: f"Ruth {text}"},
        staff_numbers={NADIA: f"DM-1 {text}", TOMAS: f"DM-2 {text}", RUTH: f"DM-3 {text}"},
    )
    high = {"demand_dose": "0.8 mg", "limit_amount": "8 mg"}
    story = told.Told(names=names, site=f"Site {text}").begun()
    story.read(
        answers(
            wristband={"identifier": f"ID {text}"},
            label={"identifier": "none", "lot": f"LOT {text}", "code": f"CODE {text}"},
            order={**high, "identifier": f"ID {text}"},
            device=high,
            chart={"opioid_tolerant": "yes", "sedatives": "charted"},
        )
    )
    story.granted("above-hard-limit", reason=f"Because {text}", prescriber=f"Dr {text}")
    story.answered("above-soft-limit", reason="ordered-so", text=text)
    story.answered("patient-at-risk", reason="prescriber-asked", named=f"Dr {text}", text=text)
    return story.finished().document()


def page_of(document: dict[str, Any]) -> str:
    return record_page(document, digest=told.digest_of(document), signatures=told.signed(document))


def elements(page: str) -> list[tuple[str, tuple[str, ...]]]:
    """Every element and the names of its attributes, in order, as a browser reads the page."""
    tree = html5lib.parse(page, namespaceHTMLElements=False)
    return [(str(each.tag), tuple(sorted(each.attrib))) for each in tree.iter()]


@pytest.mark.parametrize("text", EVIL)
def test_text_stays_text(text: str) -> None:
    page = page_of(written_by(text))
    words = " ".join("".join(_texts(page)).split())

    assert elements(page) == elements(page_of(written_by("harmless")))
    assert words.count(" ".join(text.split())) >= 10


def _texts(page: str) -> Iterator[str]:
    body = html5lib.parse(page, namespaceHTMLElements=False).find("body")
    assert body is not None
    yield from body.itertext()


def test_a_record_full_of_it_is_printed_and_asks_for_nothing() -> None:
    document = written_by(" ".join(EVIL))
    content = render_record(document, digest=told.digest_of(document), signatures=told.signed(document))
    text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages)

    assert "file:///etc/passwd" in "".join(text.split())
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert list(pdf.attachments) == ["record.json", "renderer.json"]
        assert all("/Annots" not in page for page in pdf.pages)
        assert "/AcroForm" not in pdf.Root
        assert "/OpenAction" not in pdf.Root


@pytest.mark.parametrize(
    "page",
    [
        '<img src="file:///etc/passwd">',
        '<img src="http://127.0.0.1:1/x.png">',
        '<img src="https://evil.invalid/x.png">',
        '<img src="data:image/png;base64,AAAA">',
        '<img src="ftp://evil.invalid/x.png">',
        '<link rel="stylesheet" href="file:///etc/passwd">',
        '<link rel="attachment" href="file:///etc/passwd">',
        "<style>@import url(file:///etc/passwd);</style>",
        "<style>@font-face { font-family: x; src: url(file:///etc/passwd) } p { font-family: x }</style><p>x",
        '<p style="background: url(file:///etc/passwd)">x',
        "<style>p::before { content: url(countersign-fonts:../fonts/LICENSE) }</style><p>x",
        "<style>p::before { content: url(countersign-fonts:LICENSE) }</style><p>x",
        '<object data="file:///etc/passwd"></object>',
        '<embed src="file:///etc/passwd">',
        '<svg><image href="file:///etc/passwd" width="9" height="9"/></svg>',
        '<a rel="attachment" href="file:///etc/passwd">x</a>',
    ],
)
def test_a_page_that_asks_for_anything_is_not_printed(page: str) -> None:
    with pytest.raises(maker.ForbiddenFetchError):
        maker.make_pdf(f"<!doctype html><html><body>{page}</body></html>", "")


def test_a_style_sheet_that_asks_for_anything_is_not_used() -> None:
    with pytest.raises(maker.ForbiddenFetchError):
        maker.make_pdf("<p>x</p>", "@import url(file:///etc/passwd);")


def test_a_page_that_asks_for_nothing_is_printed() -> None:
    font = "@font-face { font-family: Own; src: url(countersign-fonts:hyperlegible-bold.woff2) }"
    content = maker.make_pdf("<p>x</p>", font, "p { font-family: Own }")

    assert content.startswith(b"%PDF-1.7")
    with pikepdf.open(io.BytesIO(content)) as pdf:
        (embedded,) = pdf.pages[0].Resources.Font.as_dict().values()
        assert str(embedded.BaseFont).endswith("+Own-Bold")
