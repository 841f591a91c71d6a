"""What is said of how an infusion stands: on the screens, and on the record of its handoff."""

from collections.abc import Callable, Mapping
from typing import Any

from app.records.as_it_stands import AWAY, DEAD, ENDED, HELD, KEPT, NOT_FOUND, PAUSED, RUNS, STOPPED
from app.words.emergencies import AWAY_FOR, GIVEN_AT, HARMS, KEYS, TOLD
from app.words.hurried import sealed_words, within

STATES: Mapping[str, str] = {
    RUNS: "It runs",
    PAUSED: "The line is paused",
    STOPPED: "It stands",
    ENDED: "It has ended",
}
NOT_DECIDED = "It starts again only once a prescriber has decided."
RUNS_UNDECIDED = "It runs all the same, and no prescriber has decided that it may: call one now, or stop it."
LEAVE_IT = "Clear, empty and switch off nothing until the site's investigator gives it free."


_LEFT: Mapping[str, Callable[[str], str]] = {
    HELD: lambda _: "Held: a reversal agent was given",
    DEAD: lambda _: "Device dead, or power lost",
    AWAY: lambda which: f"Away without PCA: {within(AWAY_FOR, which)}",
    KEPT: lambda which: f"{HARMS[which]}: kept as it is",
    NOT_FOUND: lambda which: f"{KEYS[which]} is not found",
}


def left_words(what: str, which: str) -> str:
    """One thing that an emergency left."""
    return _LEFT[what](which)


def until_changed(*, counted: bool) -> str:
    """What is done until a key or code is changed that is not found."""
    said = "Counted by two since; again at each handoff" if counted else "Two count it now"
    return f"{said}, until lock, key or code is changed."


def told_words(left: Mapping[str, Any], moment: Callable[[str], str]) -> tuple[tuple[str, str], ...]:
    """What people wrote of it, each with its label; `moment` says a time that they stated in words."""
    told = left["told"]
    if left["what"] == KEPT:
        return sealed_words(told)
    return tuple((TOLD[name], moment(text) if name == GIVEN_AT else text) for name, text in told.items())
