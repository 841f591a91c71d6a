"""The sealed record that several files look at, made once."""

import pytest

from tests.reports.sealed import Story, tell


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    """A record signed, proved and sealed."""
    return tell(tmp_path_factory.mktemp("site") / "site-keys")
