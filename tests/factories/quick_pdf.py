"""Bytes in the place of a rendered and sealed PDF, for tests of how one is stored."""

import pytest

from app.records.canonical import canonical
from app.reports import seal
from app.workflow import following, issuing


def without_rendering(monkeypatch: pytest.MonkeyPatch) -> None:
    """No rendering and no seal, where only the storing of a PDF is asked about."""
    monkeypatch.setattr(issuing, "render_record", quick_pdf_of)
    monkeypatch.setattr(following, "render_what_followed", quick_pdf_of)
    monkeypatch.setattr(seal, "seal_pdf", lambda content, *_, **__: content)


def quick_pdf_of(document: dict[str, object], **_more: object) -> bytes:
    """In the place of the renderer: the same bytes for the same record."""
    return b"%PDF-1.7 " + canonical(document)
