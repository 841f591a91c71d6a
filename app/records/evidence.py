"""What is written of device and syringe that are kept after suspected overdose or death.

One person alone writes it, and writes it again as more is known: of each answer the last counts, and all of
it is of the moment when it was first written.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.records.custody import NOBODY_HOLDS_IT, OF_CUSTODY, Custody, after
from app.records.emergency_events import EvidenceKept, EvidenceReleased
from app.records.infusion import misplaced_stops
from app.records.kept import Entry
from app.records.sources import Field
from app.records.totals_rows import TOTALS_ROWS

IN_OWN_WORDS = ("seal", "holder", "place")
READ: tuple[Field, ...] = tuple(each for each in TOTALS_ROWS if not each.stamped)
"""What device and barrel showed, asked as in any reading of them."""


def answers_of(event: EvidenceKept) -> dict[str, str]:
    """What was said this time, by the names of the answers."""
    names = (*IN_OWN_WORDS, *(each.name for each in READ))
    return {name: said for name in names if (said := getattr(event, name))}


def kept_in(told: Sequence[Entry]) -> Mapping[int, EvidenceKept]:
    """All that was written of what is kept, by the position where it was written first.

    Where the emergency was written at the wrong bed nothing is kept there.
    """
    misplaced = misplaced_stops(told)
    first: dict[str, int] = {}
    kept: dict[int, EvidenceKept] = {}
    for each in told:
        event = each.event
        if isinstance(event, EvidenceKept) and event.harm not in misplaced:
            position = first.setdefault(event.harm, each.position)
            said: dict[str, Any] = {**answers_of(event)}
            kept[position] = replace(kept.get(position, event), **said)
    return kept


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """All that was `said` of what is kept; whether somebody holds it, and whether it is free again."""

    said: EvidenceKept
    received: bool
    released: bool


def evidence_in(told: Sequence[Entry]) -> Mapping[int, Evidence]:
    """All that is or was kept, by the position where it was written first."""
    free = {each.event.harm for each in told if isinstance(each.event, EvidenceReleased)}
    return {
        position: Evidence(
            said=said, received=_custody_of(said.harm, told).is_received, released=said.harm in free
        )
        for position, said in kept_in(told).items()
    }


def _custody_of(harm: str, told: Sequence[Entry]) -> Custody:
    custody = NOBODY_HOLDS_IT
    for each in told:
        if isinstance(each.event, OF_CUSTODY) and each.event.harm == harm:
            custody = after(custody, each)
    return custody
