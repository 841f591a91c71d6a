"""A patient who was taken from another unit, until two have read what runs."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """One that goes on: who took the patient and who answered for it before, when, and from where.

    Until two have checked it the infusion is found there too.
    """

    at: datetime
    by: str
    sender: str
    before_unit: str
    before: str

    def is_from(self, unit: str) -> bool:
        """Whether this unit sent the patient."""
        return unit == self.before_unit
