import pytest

from tests.reports import sealed


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> sealed.Story:
    """A sealed record and its site."""
    return sealed.tell(tmp_path_factory.mktemp("site-keys"))
