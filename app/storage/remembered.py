"""What the questions of a list held of when they were last asked, so that a list reads only what is open.

Nothing in the store says so: a row that told which checks are open would change with them. The log only
grows, and whatever changes an answer appends an entry to it. So an answer stands up to a position of the log,
and only what has an entry after that position is asked again. A process that has just begun asks all once.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Remembered:
    """The rows of which a question held when the log had this many entries, by their ids."""

    position: int
    rows: Mapping[str, Any]


class Memory:
    """The last answers of one store; threads share it, since an answer is replaced whole."""

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._answers: dict[object, Remembered] = {}

    def find(self, question: object, head: int | None = None) -> Remembered | None:
        """The last answer; none for a snapshot from before it, which has to ask for itself."""
        found = self._answers.get(question)
        return found if found is not None and (head is None or found.position <= head) else None

    def keep(self, question: object, answer: Remembered) -> None:
        """Remember an answer, unless a later one is known."""
        before = self._answers.get(question)
        if before is None or before.position <= answer.position:
            self._answers[question] = answer
