"""Reading the flat rows of findings and of ended checks."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import Connection, exists, literal, select, tuple_

from app.records.event_kinds import ENDING_KINDS
from app.records.kept_rows import EndedRow, FindingReached, FindingRow, SettledRow
from app.storage.columns import UtcTime
from app.storage.row_tables import PLACE, ended_check, finding, finding_reached, finding_settled
from app.storage.rows import read_all, rows_by
from app.storage.tables import log_entry

_FINDINGS = rows_by(finding, "check").order_by(*(finding.c[name] for name in PLACE))
_SETTLED = rows_by(finding_settled, "check").order_by(*(finding_settled.c[name] for name in PLACE))
_REACHED = rows_by(finding_reached, "check").order_by(
    *(finding_reached.c[name] for name in (*PLACE, "state", "person"))
)
_ENDED = rows_by(ended_check, "check")
_KEPT = select(ended_check.c.check).where(ended_check.c.check == log_entry.c.check)
_LACKS = exists().where(log_entry.c.kind.in_(ENDING_KINDS), ~_KEPT.exists()).select()


class RowReader:
    """The flat rows; those of a check that has not ended are for verification alone."""

    _connection: Connection

    def finding_rows(self, check: str) -> tuple[FindingRow, ...]:
        """What was found in each compared round of a check."""
        return read_all(self._connection, FindingRow, _FINDINGS, check=check)

    def settled_rows(self, check: str) -> tuple[SettledRow, ...]:
        """How each came to rest."""
        return read_all(self._connection, SettledRow, _SETTLED, check=check)

    def reached_rows(self, check: str) -> tuple[FindingReached, ...]:
        """How far the review of each has come."""
        return read_all(self._connection, FindingReached, _REACHED, check=check)

    def ended_rows(self, check: str) -> tuple[EndedRow, ...]:
        """The check as it ended; none while it goes on."""
        return read_all(self._connection, EndedRow, _ENDED, check=check)

    def newest_ended(self, *, after: tuple[datetime, str] | None, limit: int) -> tuple[EndedRow, ...]:
        """A page of checks that have ended, the newest end first; `after` is the last that was seen."""
        order = (ended_check.c.ended_at, ended_check.c.check)
        wanted = select(ended_check).order_by(*(each.desc() for each in order)).limit(limit)
        if after is not None:
            wanted = wanted.where(tuple_(*order) < tuple_(literal(after[0], UtcTime), literal(after[1])))
        return read_all(self._connection, EndedRow, wanted)

    def ended_ids(self, begin: datetime, end: datetime) -> tuple[tuple[str, str], ...]:
        """Unit and id of every check that ended from one moment on and before another."""
        at = ended_check.c.ended_at
        wanted = select(ended_check.c.unit, ended_check.c.check).where(at >= begin, at < end)
        return tuple((unit, check) for unit, check in self._connection.execute(wanted))

    def ended_rows_of(self, checks: Collection[str]) -> tuple[EndedRow, ...]:
        """The rows of some checks that have ended."""
        return read_all(
            self._connection, EndedRow, select(ended_check).where(ended_check.c.check.in_(checks))
        )

    def lacks_rows(self) -> bool:
        """Whether a check has ended, by the log, of which there is no row."""
        return bool(self._connection.scalar(_LACKS))
