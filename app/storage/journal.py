"""The journal: events are appended and read; there is no update and no delete, here or in the database."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import update

from app.base import Act
from app.records.events import Event
from app.records.kept import Entry
from app.records.written import entry_content
from app.storage import tables
from app.storage.writer import Writer

# Built once: every act runs it.
_MOVE_HEAD_ON = (
    update(tables.log_head)
    .where(tables.log_head.c.id == 1)
    .values(size=tables.log_head.c.size + 1)
    .returning(tables.log_head.c.size)
)


class Journal(Writer):
    """Appends to the log."""

    @property
    def appended(self) -> tuple[Entry, ...]:
        """What this transaction has appended so far."""
        return tuple(self._appended)

    def append(
        self,
        event: Event,
        *,
        act: Act | None = None,
        at: datetime | None = None,
        by: str = "",
        check: str = "",
        infusion: str = "",
    ) -> Entry:
        """Append one event: a person's act, or, with `at`, what the site did by itself.

        The check's row is locked first, then the log's head; the position follows the last one without a gap.
        """
        if (act is None) == (at is None):
            message = "an event needs either an act or a moment"
            raise ValueError(message)
        if check:
            held = self.lock_check(check)
            infusion = infusion or held.infusion
        entry: dict[str, Any] = {
            "position": self._next_position(),
            "by": act.by.person if act else by,
            "infusion": infusion,
            "check": check,
            "session": act.by.session if act else "",
            "device": act.by.device if act else "",
        }
        moment = act.now if act else at
        signed_in_at = act.by.signed_in_at if act else None
        entry |= {"at": moment, "signed_in_at": signed_in_at}
        bare = Entry(event=event, canonical=b"", **entry)
        made = replace(bare, canonical=entry_content(bare))
        self._insert(tables.log_entry, {**entry, "canonical": made.canonical, "kind": event.kind})
        self._appended.append(made)
        return made

    def _next_position(self) -> int:
        """Lock the log's head and move it on; a rollback moves it back."""
        self._holds_log_head = True
        position: int = self._connection.execute(_MOVE_HEAD_ON).scalar_one()
        return position
