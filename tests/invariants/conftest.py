from collections.abc import Iterator

import pytest

from app.workflow import issuing
from tests.factories.ward import Ward, open_ward, quick_pdf_of


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    """A ward on SQLite."""
    with open_ward(sqlite_url) as made:
        yield made


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """No rendering: one takes seconds."""
    monkeypatch.setattr(issuing, "render_record", quick_pdf_of)
