"""A transfer between units as pages show it: where from, where to, and until when two have read it."""

from dataclasses import dataclass
from datetime import datetime

from app.records.kinds import HANDOFF_STANDING, TRANSFER
from app.web.models.lists import place
from app.words.names import named_within
from app.workflow.transferring import TransferSeen


@dataclass(frozen=True, kw_only=True)
class TransferShown:
    """A transfer that goes on; `kind` is the check that is due of it, and `is_open` one that is open.

    `opens` is what opening it is called, and `reads` what two read in it.
    """

    infusion: str
    before: str
    now: str
    sender: str
    due_at: datetime
    overdue: bool
    is_open: bool
    kind: str
    opens: str
    reads: str


def transfer_shown(seen: TransferSeen) -> TransferShown:
    """For a page of either unit; no value is on it."""
    return TransferShown(
        infusion=seen.infusion,
        before=place(seen.before_unit, seen.before),
        now=place(seen.unit, seen.bed),
        sender=seen.sender,
        due_at=seen.due_at,
        overdue=seen.overdue,
        is_open=seen.is_open,
        kind=TRANSFER.name if seen.runs else HANDOFF_STANDING.name,
        opens="transfer check" if seen.runs else named_within(HANDOFF_STANDING.name),
        reads="what runs" if seen.runs else "what stands",
    )
