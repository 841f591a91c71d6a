"""What the volumes of a device that takes its doses in mL hold, by the concentration on the label."""

from collections.abc import Iterator

from app.comparison.case import Case
from app.comparison.readings import DoseAsVolume
from app.comparison.wording import as_mass


def masses_in(case: Case) -> Iterator[tuple[str, str, str]]:
    """Letter, field and mass of each volume whose mass is known."""
    for letter, entry in case.by_clinician().items():
        for field, reading in entry.device.by_field.items():
            if isinstance(reading, DoseAsVolume) and reading.value is not None:
                yield letter, field, as_mass(reading.typed, reading.value)
