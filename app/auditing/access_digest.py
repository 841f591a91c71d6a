"""The list of who looked at patient data: outside the log, but its digest stands in it, day by day.

A span ends at a place of the list, not at a moment: a clock that was moved changes nothing about it.
"""

import hashlib
from datetime import UTC, datetime, timedelta

from app.records.canonical import canonical
from app.records.kept import Entry
from app.records.site_events import AccessesDigested
from app.site.installation import Site
from app.storage import Reader

# A look is written down with the moment of its request, a little later: by then all before it are there.
SETTLES = timedelta(minutes=5)


def digest_accesses(site: Site, now: datetime) -> bool:
    """Once a day (UTC), write into the log what the list was; whether it was time."""
    settled = now - SETTLES
    with site.store.read() as reader:
        if not _is_due(reader, settled):
            return False
    with site.store.write() as tx:
        if not _is_due(tx, settled):
            return False
        begins = _up_to(tx.find_latest(AccessesDigested.kind))
        tx.append(_digested(tx, begins, max(begins, tx.last_access_before(settled))), at=now)
    return True


def changed_accesses(reader: Reader) -> tuple[int, ...]:
    """The last places of the spans of which the list is not any more what the log says that it was."""
    changed, begins = [], 0
    for entry in reader.entries_of_kind(AccessesDigested.kind):
        ends = _up_to(entry)
        if _digested(reader, begins, ends) != entry.event:
            changed.append(ends)
        begins = ends
    return tuple(changed)


def _is_due(reader: Reader, settled: datetime) -> bool:
    # Another day, not a later one: after a clock that was ahead is put right nothing waits for it.
    last = reader.find_latest(AccessesDigested.kind)
    return last is None or _day(last.at - SETTLES) != _day(settled)


def _day(at: datetime) -> str:
    return at.astimezone(UTC).date().isoformat()


def _up_to(entry: Entry | None) -> int:
    if entry is None:
        return 0
    assert isinstance(entry.event, AccessesDigested)  # noqa: S101  # asked for by its kind
    return entry.event.up_to


def _digested(reader: Reader, after: int, up_to: int) -> AccessesDigested:
    """SHA-256 over the looks of a span, in the order of the list, each as canonical JSON in a line."""
    count, hashed = 0, hashlib.sha256()
    for each in reader.accesses_between(after, up_to):
        count += 1
        hashed.update(canonical({**vars(each), "at": each.at.astimezone(UTC).isoformat()}) + b"\n")
    return AccessesDigested(up_to=up_to, count=count, digest=hashed.hexdigest())
