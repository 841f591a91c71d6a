"""When the log is signed by itself: at each shift change, which is daily at least, and after an issue."""

from datetime import datetime
from zoneinfo import ZoneInfo

from app.auditing.checkpointing import HistoryChanged, make_checkpoint, place_of
from app.records.rules import POLICY
from app.records.shifts import last_change
from app.site.installation import KeysUnusable, Site, usable_site_keys
from app.site.loading import rules_in_force


def keep_checkpoints(site: Site, now: datetime, *, issued: int) -> KeysUnusable | HistoryChanged | None:
    """Sign the log where it is time, or where the entry at position `issued` is not covered yet (0: none).

    A log in which nothing has happened since the last checkpoint needs no other.
    """
    with site.store.read() as reader:
        latest, size = reader.latest_checkpoint(), reader.head()
        rules = rules_in_force(reader, now)
    if POLICY not in rules.published or (latest is not None and latest.size == size):
        return None
    if latest is not None and latest.size > size:
        return HistoryChanged(size=latest.size)
    policy = rules.policy
    due = latest is None or latest.at < last_change(now, ZoneInfo(policy.zone), policy.shift_changes)
    if not due and latest is not None and latest.size >= issued:
        return None
    keys = usable_site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return keys
    # At a shift change the whole log is read anew; in between what this process knows of it is enough.
    made = (
        make_checkpoint(site, keys, now) if due else place_of(site, keys, site.tree, position=issued, now=now)
    )
    return made if isinstance(made, HistoryChanged) else None
