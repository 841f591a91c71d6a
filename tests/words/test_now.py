"""For how long a line has stood, in steps."""

from datetime import timedelta

import pytest

from app.words.now import for_how_long


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(0, "less than 5 min"), (4, "less than 5 min"), (5, "5 min"), (59, "55 min"), (60, "1 h"), (179, "2 h")],
)
def test_it_is_said_in_steps_that_are_never_more_than_it_was(minutes: int, said: str) -> None:
    assert for_how_long(timedelta(minutes=minutes)) == said
