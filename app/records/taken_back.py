"""The drug that was taken back after a syringe was replaced.

Each is written as the account of an infusion writes what is wasted or returned: it is judged there.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

WASTED, RETURNED = "wasted", "returned"
WAYS = (WASTED, RETURNED)
# Where it was: a reading of one is no reading of the other.
IN_SYRINGE, IN_LINE = "syringe", "line"


@dataclass(frozen=True, kw_only=True)
class TakenBack:
    """What one of the two wrote down, and who witnessed it."""

    slot: int
    round: int
    way: str
    syringe: str
    held_in: str
    volume: str
    exact: str
    lot: str
    stated_at: str
    witness: str
    received: bool
    by: str
    at: datetime
    position: int

    def entry(self) -> dict[str, Any]:
        """With the keys of the account's entries; the volume in mL to its last digit."""
        seen = {"witnessed": True} if self.way == WASTED else {"received": self.received}
        return {
            "kind": self.way,
            "at": self.stated_at or self.at.isoformat(timespec="seconds"),
            "syringe": self.syringe,
            "volume": self.exact,
            **seen,
        }


def is_nothing(exact: str) -> bool:
    """Whether it is written that nothing was there."""
    return exact.split(maxsplit=1)[0] == "0"


def standing(taken: Iterable[TakenBack]) -> frozenset[int]:
    """The positions of those that count: of what was written anew, the last."""
    return frozenset({(each.round, each.held_in): each.position for each in taken}.values())
