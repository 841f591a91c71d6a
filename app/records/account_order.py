"""In which order the entries of an account stand: by their times, but for a server's clock that was put back.

What the log tells after that happened after all that it told before, whatever the two times say.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from app.records.kept import Entry

PUT_BACK = timedelta(minutes=1)
"""By so much more the clock was put back: who waits for another's turn has an earlier time by less."""


def eras_of(told: Iterable[Entry]) -> dict[int, int]:
    """How often the clock had been put back before each entry of the log, by its position."""
    eras: dict[int, int] = {}
    era, before = 0, None
    for each in told:
        if before is not None and before - each.at > PUT_BACK:
            era += 1
        eras[each.position], before = era, each.at
    return eras


def is_on(kinds: Iterable[str]) -> bool:
    """Whether a syringe is on the device after entries of these kinds."""
    turns = [each for each in kinds if each in ("loaded", "removed")]
    return bool(turns) and turns[-1] == "loaded"


def place_of(one: tuple[int, datetime], order: Sequence[tuple[int, datetime]]) -> int:
    """Behind the last that was not later."""
    return next((place for place in range(len(order), 0, -1) if order[place - 1] <= one), 0)
