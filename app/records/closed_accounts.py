"""What of an account a third person has closed: what nobody saw go, or took, is settled with it."""

from collections.abc import Iterable, Sequence

from app.records.account_entries import AccountEntry
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.kept import Entry


def settled_drug(log: Iterable[Entry]) -> frozenset[int]:
    """The positions of what was written of drug that went, left open, and closed with a reason since."""
    left: set[int] = set()
    settled: set[int] = set()
    for each in log:
        match each.event:
            case AccountLeftOpen(drug=position) if position:
                left.add(int(position))
            case AccountClosed():
                settled |= left
                left.clear()
            case _:
                pass
    return frozenset(settled)


def settled_in(entries: Sequence[AccountEntry], log: Iterable[Entry]) -> tuple[int, ...]:
    """The entries of an account, by their places in it, of which that is so."""
    settled = settled_drug(log)
    return tuple(place for place, each in enumerate(entries) if each.position in settled)
