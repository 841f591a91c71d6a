from collections.abc import Iterator

import pytest

from tests.factories.ward import Ward, open_ward


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    """A ward; the test runs once on each database engine."""
    with open_ward(database_url) as made:
        yield made


@pytest.fixture
def one_ward(sqlite_url: str) -> Iterator[Ward]:
    """A ward on SQLite alone, for what the engine of the database has no part in."""
    with open_ward(sqlite_url) as made:
        yield made
