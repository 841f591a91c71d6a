"""What was done with a syringe and who had which part in it, for the controlled-drug officer."""

from collections.abc import Mapping

from app.records.handled import (
    ACCOUNT_CLOSED,
    DID,
    GAVE,
    HOLDS,
    ISSUED,
    KEPT,
    LOADED,
    RECEIVED,
    SAW,
    SEAL_DIFFERED,
    TAKEN_OVER,
    TOOK,
    UNCHECKED,
    WITNESSED,
    WROTE,
)
from app.records.issue_events import IssueSettled
from app.records.taken_back import BROKEN, RETURNED, SPILT, WASTED

WHAT: Mapping[str, str] = {
    ISSUED: "Issued",
    LOADED: "Loaded and started",
    UNCHECKED: "Started without a check",
    WASTED: "Wasted",
    RETURNED: "Returned to the pharmacy",
    SPILT: "Spilt or lost",
    BROKEN: "Broken",
    IssueSettled.NOT_RECEIVED: "Not here any more, and nobody signed for it",
    IssueSettled.CLOSED: "Not found: closed with the account",
    KEPT: "Kept under seal",
    TAKEN_OVER: "Held under seal, as the holder confirmed",
    SEAL_DIFFERED: "Another number was read on the seal",
    ACCOUNT_CLOSED: "Account closed",
}
PARTS: Mapping[str, str] = {
    GAVE: "handed over by",
    TOOK: "taken by",
    WROTE: "written down by",
    DID: "by",
    WITNESSED: "witnessed by",
    RECEIVED: "received by",
    SAW: "seen, but not as its witness, by",
    HOLDS: "held by",
}
