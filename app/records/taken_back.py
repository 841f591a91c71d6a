"""Drug that was taken back or lost: after a syringe was replaced, at the end, or outside of any check.

Each is written as the account of an infusion writes what is wasted or returned: it is judged there.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.ending_events import DrugRead, DrugReadApart
from app.records.kept import Entry
from app.records.ward_events import DrugTakenBack

WASTED, RETURNED = "wasted", "returned"
WAYS = (WASTED, RETURNED)
# Where it was: a reading of one is no reading of the other.
IN_SYRINGE, IN_LINE = "syringe", "line"
# What became of it where nobody meant it to go.
SPILT, BROKEN = "spilt", "broken"
# What may become of it outside of any check: where it was, and the way it went.
OUTSIDE = {
    WASTED: (IN_SYRINGE, WASTED),
    RETURNED: (IN_SYRINGE, RETURNED),
    SPILT: (SPILT, WASTED),
    BROKEN: (BROKEN, WASTED),
}
# After these nothing of the syringe is left.
EMPTIES = frozenset({IN_SYRINGE, BROKEN})


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
    first: str
    not_witnessed: str
    is_told_apart: bool
    by: str
    at: datetime
    position: int

    def entry(self) -> dict[str, Any]:
        """With the keys of the account's entries; the volume in mL to its last digit."""
        seen = {"witnessed": not self.not_witnessed} if self.way == WASTED else {"received": self.received}
        return {
            "kind": self.way,
            "at": self.stated_at or self.at.isoformat(timespec="seconds"),
            "syringe": self.syringe,
            "volume": self.exact,
            **seen,
        }


@dataclass(frozen=True, kw_only=True)
class FirstRead:
    """What one person read first, sealed, and waits for a second one; `reading` is 1 or 2."""

    slot: int
    round: int
    reading: int
    way: str
    held_in: tuple[str, ...]
    syringe: str
    lot: str
    stated_at: str
    sealed: str
    by: str
    at: datetime
    device: str
    position: int


def find_first_read(entries: Iterable[Entry], check: str) -> FirstRead | None:
    """What waits for a witness in a check, or where no check is named, outside of any."""
    waits: FirstRead | None = None
    for each in entries:
        match each.event:
            case DrugRead() as event if each.check == check:
                waits = FirstRead(
                    **vars(event), by=each.by, at=each.at, device=each.device, position=each.position
                )
            case DrugReadApart() | DrugTakenBack() if each.check == check:
                waits = None
            case _:
                pass
    return waits


def next_reading(entries: Iterable[Entry], check: str) -> int:
    """Which reading of a remainder comes next: the second, once the two did not agree."""
    of_it = (each.event for each in entries if each.check == check)
    told = [each for each in of_it if isinstance(each, DrugReadApart | DrugTakenBack)]
    return told[-1].reading + 1 if told and isinstance(told[-1], DrugReadApart) else 1


def find_apart(entries: Iterable[Entry], check: str) -> Entry | None:
    """What one person read first, where the two did not agree and it is to be read once more."""
    of_it = [each for each in entries if each.check == check]
    told = [each for each in of_it if isinstance(each.event, DrugRead | DrugReadApart | DrugTakenBack)]
    is_apart = bool(told) and isinstance(told[-1].event, DrugReadApart)
    return next((each for each in reversed(told) if is_apart and isinstance(each.event, DrugRead)), None)


def is_nothing(exact: str) -> bool:
    """Whether it is written that nothing was there."""
    return exact.split(maxsplit=1)[0] == "0"


def standing(taken: Iterable[TakenBack]) -> frozenset[int]:
    """The positions of those that count: of what was written anew, the last.

    At the end, which is in no round of its own, each syringe is written of once, by its name in the account.
    """
    last = {(each.round or each.syringe, each.held_in): each.position for each in taken}
    return frozenset(last.values())
