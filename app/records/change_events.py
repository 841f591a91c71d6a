"""What is changed of an infusion without a check before it; no value that was read is in it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class DoseLowered(Event):
    """One nurse lowered what is given, for safety and at once; `why` is a code."""

    kind: ClassVar[str] = "dose-lowered"
    why: str


@dataclass(frozen=True, kw_only=True)
class BedChanged(Event):
    """An infusion is at another bed of its unit from here on; `before` is the bed that it leaves."""

    kind: ClassVar[str] = "bed-changed"
    unit: str
    bed: str
    before: str


@dataclass(frozen=True, kw_only=True)
class PatientTaken(Event):
    """A nurse of another unit took patient and infusion there, and answers for it from here on.

    `before` is the bed that it leaves, of the unit `before_unit`. The device never stopped.
    """

    kind: ClassVar[str] = "patient-taken"
    unit: str
    bed: str
    before_unit: str
    before: str
