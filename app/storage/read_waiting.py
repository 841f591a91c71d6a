"""What pages that wait are told, remembered for as long as nothing has happened to their check.

A hundred pages may ask each second. Each check is loaded once for all that ask of it, and again only once it
or its infusion has an entry since; what has one is asked once for all of them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, bindparam, select

from app.storage import tables
from app.storage.read_log import LogReader
from app.storage.remembered import Memory, Remembered

_LOG = tables.log_entry
_TOUCHED = select(_LOG.c.check, _LOG.c.infusion).where(_LOG.c.position > bindparam("position"))
_QUESTION = "waiting"
# More than wait at once: of what nobody asks any more nothing is remembered for ever.
_MOST = 1000


@dataclass(frozen=True, kw_only=True)
class Awaited:
    """A check of which pages wait: whose it is, and the last position of which they may be told."""

    infusion: str
    people: frozenset[str]
    told_position: int


class WaitingReader(LogReader):
    """What pages that wait ask."""

    _connection: Connection
    _memory: Memory | None

    def find_awaited(self, check: str, look: Callable[[], Awaited | None]) -> Awaited | None:
        """What is known of a check, or what a `look` at it finds now."""
        memory, head = self._memory, self.head()
        known = memory.find(_QUESTION, head) if memory else None
        rows: Mapping[str, Awaited] = known.rows if known else {}
        if known and known.position < head:
            rows = self._untouched(known)
        awaited = rows.get(check)
        if awaited is None:
            awaited = look()
            rows = {**(rows if len(rows) < _MOST else {}), **({check: awaited} if awaited else {})}
        if memory:
            memory.keep(_QUESTION, Remembered(position=head, rows=rows))
        return awaited

    def _untouched(self, known: Remembered) -> dict[str, Awaited]:
        touched = {
            each for row in self._connection.execute(_TOUCHED, {"position": known.position}) for each in row
        }
        return {
            check: awaited
            for check, awaited in known.rows.items()
            if check not in touched and awaited.infusion not in touched
        }
