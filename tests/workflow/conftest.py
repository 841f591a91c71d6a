from collections.abc import Iterator

import pytest

from app.records.state import Phase
from tests.story.attacked import Attacked
from tests.story.ward import open_ward


@pytest.fixture
def attacked(database_url: str) -> Iterator[Attacked]:
    """A check that waits for its signatures; what happens to it is not held to the invariants."""
    with open_ward(database_url) as made:
        under = Attacked(made.site, database_url)
        under.at_stage(Phase.SIGNING)
        yield under
