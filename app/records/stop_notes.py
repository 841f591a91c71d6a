"""What somebody wrote down about a stop of the device."""

from dataclasses import dataclass
from datetime import datetime

from app.records.events import END_OF_THERAPY

# When the device was stopped for anything else, or nobody said for what, it was stopped for the patient.
NOT_FOR_THE_PATIENT = frozenset({"line-or-site", "device-alarm-or-fault", END_OF_THERAPY, "other"})


@dataclass(frozen=True, kw_only=True)
class StopNote:
    """What somebody wrote down about a stop of the device, as it was told: each text may be empty.

    `note` is the position of its first entry in the log. `placed_by` said to which bed it belongs, where it
    was written for one that nobody knew. `misplaced`: it was written at the wrong bed.
    """

    note: int
    by: str
    at: datetime
    stopped_at: str
    why: str
    totals: str
    position: int
    misplaced: bool
    placed_by: str = ""

    @property
    def for_the_patient(self) -> bool:
        """Whether what was agreed of the patient no longer holds."""
        return self.why not in NOT_FOR_THE_PATIENT

    def is_corrected_by(self, person: str) -> bool:
        """Whether this person may say that it was another bed: its author, or whoever placed it."""
        return not self.misplaced and person in {self.by, self.placed_by}
