"""Reading the log."""

from collections.abc import Collection

from sqlalchemy import Connection, bindparam, select

from app.records.course_kinds import COURSE
from app.records.events import ExceptionGranted, PersonNamed, UnitNamed
from app.records.export_events import Exported
from app.records.kept import Entry, KeptCheck
from app.records.ward_events import BedAdded, BedRetired
from app.storage import rows, tables
from app.storage.rows import rows_by

_LOG = tables.log_entry
_HEAD = select(tables.log_head.c.size)
_OF_CHECK = rows_by(_LOG, "check").order_by(_LOG.c.position)
_COURSE = rows_by(_LOG, "infusion").where(_LOG.c.kind.in_(COURSE)).order_by(_LOG.c.position)
_OF_INFUSION = (
    select(_LOG)
    .where(
        (_LOG.c.infusion == bindparam("infusion"))
        | _LOG.c.check.in_(select(tables.check.c.id).where(tables.check.c.infusion == bindparam("infusion")))
    )
    .order_by(_LOG.c.position)
)
_WITH_COURSE = (
    rows_by(_LOG, "infusion")
    .where((_LOG.c.check == bindparam("check")) | _LOG.c.kind.in_(COURSE))
    .order_by(_LOG.c.position)
)
_OF_KIND = rows_by(_LOG, "kind").order_by(_LOG.c.position)
_EXPORTED = (
    rows_by(_LOG, "kind").where(_LOG.c.by.in_(bindparam("people", expanding=True))).order_by(_LOG.c.position)
)
_GRANTED = (
    select(_LOG)
    .where(_LOG.c.check.in_(bindparam("checks", expanding=True)), _LOG.c.kind == ExceptionGranted.kind)
    .order_by(_LOG.c.position)
)
_NAMING = select(_LOG).where(_LOG.c.kind.in_((PersonNamed.kind, UnitNamed.kind))).order_by(_LOG.c.position)
# By its place: a clock may have been moved since the one before.
_LATEST_OF_KIND = rows_by(_LOG, "kind").order_by(_LOG.c.position.desc()).limit(1)
_BEDS = select(_LOG).where(_LOG.c.kind.in_((BedAdded.kind, BedRetired.kind))).order_by(_LOG.c.position)
_STOPS_NOWHERE = select(_LOG).where(tables.OF_STOPS_NOWHERE).order_by(_LOG.c.position)
_AFTER = select(_LOG).where(_LOG.c.position > bindparam("after")).order_by(_LOG.c.position)


class LogReader:
    """The entries of the log, in the order of their positions, which start at 1 and have no gap."""

    _connection: Connection

    def head(self) -> int:
        """How many entries the log has; the position of the last one."""
        size: int = self._connection.execute(_HEAD).scalar_one()
        return size

    def entries(self, check: str) -> tuple[Entry, ...]:
        """What happened to a check."""
        return rows.entries(self._connection, _OF_CHECK, check=check)

    def entries_of_infusion(self, infusion: str) -> tuple[Entry, ...]:
        """Everything that happened to an infusion and to its checks."""
        return rows.entries(self._connection, _OF_INFUSION, infusion=infusion)

    def course(self, infusion: str) -> tuple[Entry, ...]:
        """What the state of an infusion is folded from."""
        return rows.entries(self._connection, _COURSE, infusion=infusion)

    def entries_with_course(self, check: KeptCheck) -> tuple[Entry, ...]:
        """What happened to a check, and the course of its infusion, in one go."""
        return rows.entries(self._connection, _WITH_COURSE, infusion=check.infusion, check=check.id)

    def log_entries(self, *, after: int, limit: int) -> tuple[Entry, ...]:
        """The next entries after a position; 0 begins at the first."""
        return rows.entries(self._connection, _AFTER.limit(limit), after=after)

    def entries_of_kind(self, kind: str) -> tuple[Entry, ...]:
        """Every entry of one kind of event."""
        return rows.entries(self._connection, _OF_KIND, kind=kind)

    def exports_asked_by(self, people: Collection[str]) -> tuple[Entry, ...]:
        """That some people asked for an export, each time."""
        return rows.entries(self._connection, _EXPORTED, kind=Exported.kind, people=list(people))

    def granted_in(self, checks: Collection[str]) -> tuple[Entry, ...]:
        """The exceptions that were granted in some checks."""
        return rows.entries(self._connection, _GRANTED, checks=list(checks))

    def naming_entries(self) -> tuple[Entry, ...]:
        """Every entry that says what a person or a unit is called."""
        return rows.entries(self._connection, _NAMING)

    def bed_entries(self) -> tuple[Entry, ...]:
        """Every entry that adds or retires a bed."""
        return rows.entries(self._connection, _BEDS)

    def stops_nowhere(self) -> tuple[Entry, ...]:
        """The stops that counted for nothing when they were written, and what was said of them since."""
        return rows.entries(self._connection, _STOPS_NOWHERE)

    def find_latest(self, kind: str) -> Entry | None:
        """The last entry of one kind of event."""
        return next(iter(rows.entries(self._connection, _LATEST_OF_KIND, kind=kind)), None)
