"""Who had drug in hand: what the log of an infusion says of who gave, took, loaded, wasted or saw it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from app.records import events
from app.records.account_events import AccountClosed
from app.records.emergency_events import EvidenceKept, EvidenceReceived, SealDiffered
from app.records.infusion import misplaced_stops
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.kept import Entry
from app.records.kinds import Syringe, kind_named
from app.records.taken_back import BROKEN, SPILT
from app.records.ward_events import DrugTakenBack

# What was done, beside the ways of a syringe that was taken back and what became of one that was issued.
ISSUED, LOADED, UNCHECKED, KEPT, ACCOUNT_CLOSED = "issued", "loaded", "unchecked", "kept", "account-closed"
TAKEN_OVER, SEAL_DIFFERED = "taken-over", "seal-differed"
# The part that somebody had in it.
GAVE, TOOK, WROTE, DID, WITNESSED, RECEIVED, SAW, HOLDS = (
    "gave",
    "took",
    "wrote",
    "did",
    "witnessed",
    "received",
    "saw",
    "holds",
)


@dataclass(frozen=True, kw_only=True)
class Hand:
    """One who had a part in it: a login, or a name as it was written where there is none."""

    part: str
    person: str = ""
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class Handled:
    """One thing that was done with a syringe; `number` and `volume` are as they were written, or blank."""

    at: datetime
    what: str
    number: str
    volume: str
    hands: tuple[Hand, ...]


def handled(entries: Iterable[Entry], two: Mapping[str, Sequence[str]]) -> Iterator[Handled]:
    """What some entries of one infusion tell, in their order; `two` are the people of each check.

    Nobody had anything in hand by what was written at the wrong bed.
    """
    told = tuple(entries)
    misplaced = misplaced_stops(told)
    for each in told:
        found = _find(each, two.get(each.check, ())) if str(each.position) not in misplaced else None
        if found is not None:
            yield found


def _find(entry: Entry, two: Sequence[str]) -> Handled | None:
    match entry.event:
        case SyringeIssued() as event:
            named = Hand(part=GAVE, name=event.giver), Hand(part=TOOK, name=event.receiver)
            wrote = Hand(part=WROTE, person=entry.by)
            return _handled(entry, ISSUED, *named, wrote, number=event.number, volume=event.volume)
        case events.Started() as event if kind_named(event.check_kind).syringe is not Syringe.STAYS:
            return _handled(entry, LOADED, *(Hand(part=DID, person=each) for each in two))
        case events.StartedWithoutCheck():
            return _handled(entry, UNCHECKED, Hand(part=DID, person=entry.by))
        case DrugTakenBack() as event:
            what = event.held_in if event.held_in in (SPILT, BROKEN) else event.way
            hands = (Hand(part=DID, person=entry.by), *_seen(event))
            return _handled(entry, what, *hands, number=event.lot, volume=event.volume)
        case IssueSettled() as event if event.how != IssueSettled.PUT_ON:
            received = (Hand(part=RECEIVED, person=event.receiver),) if event.receiver else ()
            return _handled(entry, event.how, Hand(part=DID, person=entry.by), *received)
        case EvidenceKept() | EvidenceReceived() | SealDiffered() as event if event.seal:
            return _sealed(entry, event)
        case AccountClosed():
            return _handled(entry, ACCOUNT_CLOSED, Hand(part=DID, person=entry.by))
        case _:
            return None


def _seen(event: DrugTakenBack) -> tuple[Hand, ...]:
    if not event.witness:
        return ()
    if event.not_witnessed:
        return (Hand(part=SAW, person=event.witness),)
    return (Hand(part=RECEIVED if event.received else WITNESSED, person=event.witness),)


def _sealed(entry: Entry, event: EvidenceKept | EvidenceReceived | SealDiffered) -> Handled:
    if isinstance(event, EvidenceReceived):
        return _handled(entry, TAKEN_OVER, Hand(part=HOLDS, person=entry.by), number=event.seal)
    wrote = Hand(part=DID, person=entry.by)
    if isinstance(event, SealDiffered):
        return _handled(entry, SEAL_DIFFERED, wrote, number=event.seal)
    holds = (Hand(part=HOLDS, name=event.holder),) if event.holder else ()
    return _handled(entry, KEPT, wrote, *holds, number=event.seal)


def _handled(entry: Entry, what: str, *hands: Hand, number: str = "", volume: str = "") -> Handled:
    return Handled(at=entry.at, what=what, number=number, volume=volume, hands=hands)
