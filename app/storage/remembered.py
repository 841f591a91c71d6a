"""What the questions of a list held of when they were last asked, so that a list reads only what is open.

Nothing in the store says so: a row that told which checks are open would change with them. The log only
grows, and whatever changes an answer appends an entry to it. So an answer stands up to a position of the log,
and only what has an entry after that position is asked again. A process that has just begun asks all once.
"""

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from threading import Lock
from typing import Any

# What is worked out is small: moments of some hundred infusions.
_WORKED_OUT = 1000


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
        self.worked_out = WorkedOut()

    def find(self, question: object, head: int | None = None) -> Remembered | None:
        """The last answer; none for a snapshot from before it, which has to ask for itself."""
        found = self._answers.get(question)
        return found if found is not None and (head is None or found.position <= head) else None

    def keep(self, question: object, answer: Remembered) -> None:
        """Remember an answer, unless a later one is known."""
        before = self._answers.get(question)
        if before is None or before.position <= answer.position:
            self._answers[question] = answer


class WorkedOut:
    """What was worked out of rows that never change, by all that it follows from; the oldest is forgotten."""

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._known: OrderedDict[object, Any] = OrderedDict()
        self._one_at_a_time = Lock()

    def find(self, key: object) -> Any | None:  # noqa: ANN401  # whatever was worked out
        """What this came to."""
        with self._one_at_a_time:
            if key in self._known:
                self._known.move_to_end(key)
            return self._known.get(key)

    def keep(self, key: object, answer: object) -> None:
        """Remember it, and forget what nobody asked for longest."""
        with self._one_at_a_time:
            self._known[key] = answer
            if len(self._known) > _WORKED_OUT:
                self._known.popitem(last=False)
