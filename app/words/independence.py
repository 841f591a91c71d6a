"""How independent two readings were, in one line, from what a record says of it."""

from collections.abc import Mapping
from typing import Any

from app.records.independence import ONE_READING, Grade

_MINUTES = int(ONE_READING.total_seconds()) // 60


# What the program is used on is a screen to people: a device is the infusion device.
_SHOWN: dict[str, str] = {
    Grade.TWO_DEVICES: "two screens, overlapping in time",
    Grade.ONE_AFTER_THE_OTHER: "two screens, one after the other",
    Grade.ONE_DEVICE: "one screen, signed in anew",
    Grade.ONE_DEVICE_UNLOCKED: "one screen, unlocked anew by six digits",
}


def shown_grade(kept: str) -> str:
    """A grade as people are told it."""
    return _SHOWN.get(kept, kept)


def independence_words(independence: Mapping[str, Any]) -> str:
    """The grade, and who had unlocked a screen by six digits instead of giving id and secret."""
    unlocked, kept = independence.get("unlocked", ()), str(independence["grade"])
    grade = shown_grade(kept)
    if not unlocked:
        return grade
    within = ""
    if independence["unlocked_together"]:
        within = f", within {_MINUTES}\N{NO-BREAK SPACE}min of each other"
    return f"{grade}; {' and '.join(unlocked)} unlocked by six digits{within}"
