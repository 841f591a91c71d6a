"""Whether a page that waits still shows its check as it is; each such page asks by itself, every second."""

from datetime import datetime, timedelta

from app.site.installation import Site
from app.site.loading import load
from app.storage import Awaited, Reader
from app.workflow.signing_in import live_session


def still_shows(  # who asks, from where, and what the page shows
    site: Site, now: datetime, *, token: str, device: str, idle: timedelta, check: str, position: int
) -> bool:
    """Whether it does, for one of the check's two in a session that lives.

    No value is seen, asking never counts as being there, and nothing of the other that may not be told yet
    makes a difference.
    """
    with site.store.read() as reader:
        session = live_session(reader, now, token=token, idle=idle)
        if session is None or session.device != device:
            return False
        awaited = reader.find_awaited(check, lambda: _look(reader, check, now))
    if awaited is None or session.person not in awaited.people:
        return False
    return awaited.told_position == position


def _look(reader: Reader, check: str, now: datetime) -> Awaited | None:
    loaded = load(reader, check, now)
    if loaded is None:
        return None
    state = loaded.state
    return Awaited(
        infusion=state.check.infusion,
        people=frozenset(state.people.values()),
        told_position=state.told_position,
    )
