from collections.abc import Iterator

import pytest

from app.records.state import Phase
from app.workflow.invariants import check_invariants
from tests.factories.attacked import Attacked
from tests.factories.quick_pdf import without_rendering
from tests.factories.ward import Ward, open_ward
from tests.reports import sealed


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    """A ward; the test runs once on each database engine, and whatever it did keeps the invariants."""
    with open_ward(database_url) as made:
        yield made
        assert check_invariants(made.site, made.now) == ()


@pytest.fixture
def one_ward(sqlite_url: str) -> Iterator[Ward]:
    """A ward on SQLite alone, for what the engine of the database has no part in."""
    with open_ward(sqlite_url) as made:
        yield made
        assert check_invariants(made.site, made.now) == ()


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> sealed.Story:
    """A sealed record and its site."""
    return sealed.tell(tmp_path_factory.mktemp("site-keys"))


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """No rendering, where only the storing of a PDF is asked about: one takes seconds."""
    without_rendering(monkeypatch)


@pytest.fixture
def attacked(database_url: str) -> Iterator[Attacked]:
    """A check that waits for its signatures; what happens to it is not held to the invariants."""
    with open_ward(database_url) as made:
        under = Attacked(made.site, database_url)
        under.at_stage(Phase.SIGNING)
        yield under
