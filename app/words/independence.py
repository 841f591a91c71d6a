"""How independent two readings were, in one line, from what a record says of it."""

from collections.abc import Mapping
from typing import Any

from app.records.independence import ONE_READING

_MINUTES = int(ONE_READING.total_seconds()) // 60


def independence_words(independence: Mapping[str, Any]) -> str:
    """The grade, and who had unlocked a screen by six digits instead of giving id and secret."""
    unlocked = independence.get("unlocked", ())
    if not unlocked:
        return str(independence["grade"])
    within = ""
    if independence["unlocked_together"]:
        within = f", within {_MINUTES}\N{NO-BREAK SPACE}min of each other"
    return f"{independence['grade']}; {' and '.join(unlocked)} unlocked by six digits{within}"
