"""The list of who looked at patient data: outside the log, but its digest stands in it, day by day."""

import hashlib
from datetime import UTC, datetime, timedelta

from app.records.canonical import canonical
from app.records.events import AccessesDigested
from app.records.kept import Entry
from app.site.installation import Site
from app.storage import Reader

# A look is written down with the moment of its request, a little later: by then all of a day are there.
SETTLES = timedelta(minutes=5)


def digest_accesses(site: Site, now: datetime) -> bool:
    """Once a day (UTC), write into the log what the list was; whether it was time."""
    until = (now - SETTLES).astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    with site.store.read() as reader:
        if not _is_due(reader, until):
            return False
    with site.store.write() as tx:
        if not _is_due(tx, until):
            return False
        tx.append(_digested(tx, _until(tx.find_latest(AccessesDigested.kind)), until), at=now)
    return True


def changed_accesses(site: Site) -> tuple[datetime, ...]:
    """The ends of the spans of which the list is not any more what the log says that it was."""
    changed, begins = [], None
    with site.store.read() as reader:
        for entry in reader.entries_of_kind(AccessesDigested.kind):
            ends = _until(entry)
            assert ends is not None  # noqa: S101  # it is an entry of this kind
            if _digested(reader, begins, ends) != entry.event:
                changed.append(ends)
            begins = ends
    return tuple(changed)


def _is_due(reader: Reader, until: datetime) -> bool:
    last = _until(reader.find_latest(AccessesDigested.kind))
    return last is None or last < until


def _until(entry: Entry | None) -> datetime | None:
    if entry is None:
        return None
    assert isinstance(entry.event, AccessesDigested)  # noqa: S101  # asked for by its kind
    return datetime.fromisoformat(entry.event.until)


def _digested(reader: Reader, begins: datetime | None, until: datetime) -> AccessesDigested:
    """SHA-256 over the looks of a span, in the order of the list, each as canonical JSON in a line."""
    count, hashed = 0, hashlib.sha256()
    for each in reader.accesses_between(begins, until):
        count += 1
        hashed.update(canonical({**vars(each), "at": each.at.astimezone(UTC).isoformat()}) + b"\n")
    return AccessesDigested(until=until.isoformat(), count=count, digest=hashed.hexdigest())
