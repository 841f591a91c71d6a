"""Examine a file that somebody gives: two at once in all, and one of each person."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.auditing.verifying_apart import LONGEST
from app.auditing.verifying_here import verify_here
from app.keys import new_id
from app.records.verification import NotReadable, Verification
from app.site.installation import Site
from app.storage import Transaction

PLACES = ("examining, first place", "examining, second place")
# However the process ends that holds a place, it is free again then.
HELD = timedelta(seconds=LONGEST + 10)


@dataclass(frozen=True)
class OwnIsExamined:
    """A file of the same person is being examined."""


@dataclass(frozen=True)
class OthersAreExamined:
    """As many files as are at once are being examined."""


def examine(
    site: Site, person: str, content: bytes, *, now: datetime
) -> Verification | NotReadable | OwnIsExamined | OthersAreExamined:
    """Put every question to a file; nothing of it is kept."""
    own, holder = f"examining for {person}", new_id()
    with site.store.write() as tx:
        place = _take_place(tx, own, holder, now)
        if not isinstance(place, str):
            tx.refuse()
            return place
    try:
        return verify_here(site, now, content)
    finally:
        with site.store.write() as tx:
            for name in (own, place):
                tx.take_lease(name, holder, now=now, until=now)


def _take_place(
    tx: Transaction, own: str, holder: str, now: datetime
) -> str | OwnIsExamined | OthersAreExamined:
    until = now + HELD
    if not tx.take_lease(own, holder, now=now, until=until):
        return OwnIsExamined()
    free = (each for each in PLACES if tx.take_lease(each, holder, now=now, until=until))
    return next(free, None) or OthersAreExamined()
