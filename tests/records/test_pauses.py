"""How long a pause may be, and which looks still count."""

from datetime import timedelta

import pytest

from app.records.pauses import LineLook, Pause
from tests.story.events import BEGAN as NOW
from tests.story.events import NADIA, TOMAS

LIMIT = timedelta(minutes=30)
VALID = timedelta(minutes=15)
MOMENT = timedelta(seconds=1)


def pause(*looks: LineLook) -> Pause:
    return Pause(position=2, at=NOW, by=NADIA, why="walk", looks=looks)


@pytest.mark.parametrize(
    ("later", "two"),
    [
        (timedelta(0), False),
        (LIMIT, False),
        (LIMIT + MOMENT, True),
        # A clock that was put back says nothing of how long it was.
        (-MOMENT, True),
        (timedelta(days=9), True),
    ],
)
def test_one_nurse_is_enough_within_the_sites_time(later: timedelta, two: bool) -> None:  # noqa: FBT001  # expected
    assert pause().needs_two(NOW + later, LIMIT) is two


def test_a_look_counts_for_its_time_and_the_newest_of_each_person() -> None:
    first, again = LineLook(by=NADIA, at=NOW), LineLook(by=NADIA, at=NOW + VALID)
    other = LineLook(by=TOMAS, at=NOW + timedelta(hours=2))
    line = pause(first, again, other)

    assert line.fresh_looks(NOW + VALID, VALID) == (again,)
    assert line.fresh_looks(NOW + 2 * VALID, VALID) == (again,)
    assert line.fresh_looks(NOW + 2 * VALID + MOMENT, VALID) == ()
    assert line.fresh_looks(NOW - MOMENT, VALID) == ()
