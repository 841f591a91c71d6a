"""What happens at the end of an infusion, and to the drug that leaves it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import CheckDone, Event


@dataclass(frozen=True, kw_only=True)
class InfusionEnded(CheckDone):
    """Both have signed the check of its end: the infusion is done with it, and its account is closed."""

    kind: ClassVar[str] = "infusion-ended"


@dataclass(frozen=True, kw_only=True)
class EndWithdrawn(Event):
    """Its author says of the stop at this position that PCA did not end with it."""

    kind: ClassVar[str] = "end-withdrawn"
    stop: str


@dataclass(frozen=True, kw_only=True)
class DrugRead(Event):
    """One person read what is to be wasted or given back: `sealed` until a second one has read it too.

    `reading` is 1, and 2 once the two did not agree; the rest is what `DrugTakenBack` will say of it.
    `syringe` is its name in the account, and blank of one whose label was read in this check alone.
    """

    kind: ClassVar[str] = "drug-read"
    slot: int
    round: int
    reading: int
    way: str
    held_in: tuple[str, ...]
    syringe: str
    lot: str
    stated_at: str
    sealed: str


@dataclass(frozen=True, kw_only=True)
class DrugReadApart(Event):
    """The two read different volumes of it: both read it once more, each alone."""

    kind: ClassVar[str] = "drug-read-apart"
    reading: int
    witness: str
