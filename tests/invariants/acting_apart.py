"""A process of its own in which two nurses do checks until it is killed: it says what is kept, line by line.

Run as `python -m tests.invariants.acting_apart ADDRESS KEYS NOW BED`.
"""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Self

from app.records.canonical import digest
from app.records.reading import Answers
from app.records.state import Phase
from app.storage import Store, Transaction
from tests.factories.answers import of_patient
from tests.story.people import Somebody
from tests.story.script import perform
from tests.story.ward import Ward, site_at

# Ids of one process do not meet those of another.
IDS_EACH = 1_000_000
# Of the invented unit.
LISTED_BEDS = 36


class NightWard(Ward):
    """At each bed lies another patient, told apart by the bed alone: by no clock."""

    def opens(self, who: Somebody | None = None, *, bed: str = "") -> Self:
        """At the next bed; one that the unit did not have is added."""
        if not bed and self.bed >= LISTED_BEDS:
            self.has_beds(str(self.bed + 1))
        return super().opens(who, bed=bed)

    def of_its_patient(self, read: Answers) -> Answers:
        """A reading of the patient at the bed of the check at hand."""
        return of_patient(f"DM-{50_000 + int(self.state().check.bed)}", read)


@contextmanager
def acknowledged(store: Store) -> Iterator[Transaction]:
    """An act as the program does it; what it appended is told once it is kept."""
    with _WRITE(store) as tx:
        yield tx
    for each in tx.appended:
        print(json.dumps([each.position, digest(each.canonical)]), flush=True)  # noqa: T201  # its answer


_WRITE = Store.write


def main() -> None:
    """Check after check."""
    address, keys, now, bed = sys.argv[1:]
    Store.write = acknowledged  # type: ignore[assignment, method-assign]
    ward = NightWard(replace(site_at(address), site_keys=Path(keys)), address)
    ward.now = datetime.fromisoformat(now)
    ward.bed, ward._ids = int(bed), int(bed) * IDS_EACH  # noqa: SLF001  # of this process alone
    while True:
        perform(ward, Phase.STARTED)


if __name__ == "__main__":
    main()
