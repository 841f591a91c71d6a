"""A bolus given by staff by the device: its dose is the order's of the check in force, and is not here."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class BolusLooked(Event):
    """What one nurse observed before a bolus, or at the peak of the one that is the entry `bolus`.

    `within` is whether the protocol allows a bolus with it.
    """

    kind: ClassVar[str] = "bolus-looked"
    bolus: str
    scale: str
    sedation: str
    respiratory_rate: str
    within: bool


@dataclass(frozen=True, kw_only=True)
class StaffBolusGiven(Event):
    """A bolus was given, after the look before it; `in_force` is the check whose order says how much.

    `stated_at` is when, where that was not when it was written.
    """

    kind: ClassVar[str] = "staff-bolus-given"
    look: str
    in_force: str
    stated_at: str = ""
