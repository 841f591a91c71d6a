"""What happens to an account that does not add up: it is left open, and a third person closes it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class AccountLeftOpen(Event):
    """What was found of the account in a reading the two cannot settle: from now on it is the charge nurse's.

    They go on, and sign that it is open. Or nobody saw that drug go: then `drug` is the position of the entry
    that says so, and there is no round.
    """

    kind: ClassVar[str] = "account-left-open"
    round: int
    drug: str = ""


@dataclass(frozen=True, kw_only=True)
class AccountClosed(Event):
    """A third person closed it, and says why; `left_open` is the position of the first entry that it answers.

    `closes` are the positions of all of them: that person was shown each, and none came since.
    """

    kind: ClassVar[str] = "account-closed"
    left_open: str
    reason: str
    closes: tuple[str, ...] = ()
