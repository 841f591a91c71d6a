"""In which order the entries of an account stand: by their times, but for a server's clock that was put back.

What the log tells after that happened after all that it told before, whatever the two times say.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

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


def on_after(told: Iterable[Mapping[str, Any]]) -> str:
    """Which syringe is on the device after these entries; blank for none."""
    turns = [each for each in told if each["kind"] in ("loaded", "removed")]
    return str(turns[-1]["syringe"]) if turns and turns[-1]["kind"] == "loaded" else ""


def place_of(one: tuple[int, datetime], order: Sequence[tuple[int, datetime]]) -> int:
    """Behind the last that was not later."""
    return next((place for place in range(len(order), 0, -1) if order[place - 1] <= one), 0)
