from collections.abc import Iterator

import pytest

from tests.factories.quick_pdf import without_rendering
from tests.factories.ward import Ward, open_ward


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    """A ward on SQLite."""
    with open_ward(sqlite_url) as made:
        yield made


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """No rendering: one takes seconds."""
    without_rendering(monkeypatch)
