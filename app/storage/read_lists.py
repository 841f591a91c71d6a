"""Lists over many checks: what is left to finish, what was cleared, what has ended."""

import heapq
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Select, literal, select, tuple_

from app.records.events import (
    Abandoned,
    DeviceStopped,
    LedToCheck,
    NextReadingOpened,
    RoundVoided,
    Signed,
    Started,
    StartedWithoutCheck,
)
from app.records.kept import FIRST, SECOND, SOURCES, KeptCheck
from app.records.ward_events import DrugTakenBack
from app.records.what_followed import LEFT_FOR, TO_CORRECT
from app.storage import rows, tables
from app.storage.columns import UtcTime
from app.storage.rows import ClearedCheck, EndedCheck, part

# What ends a check before both have signed.
_GIVEN_UP = (Abandoned.kind, LedToCheck.kind)

# Rows held in memory at a time while streaming.
_STREAM = 100

# A place in a list: the time and the check of the last row that was seen.
Place = tuple[datetime, str]

_last = tables.signature.alias("last_signature")
_other = tables.signature.alias("other_signature")
_newer = tables.frozen.alias("newer")


def _labelled(table: Any, prefix: str) -> list[Any]:  # noqa: ANN401  # a table or alias
    return [column.label(prefix + column.name) for column in table.c]


def _cleared(*more: Any) -> Select[Any]:  # noqa: ANN401  # further columns
    """Checks whose newest edition both have signed, one row each, found from the later signature."""
    superseded = select(_newer.c.edition).where(
        _newer.c.check == _last.c.check, _newer.c.edition > _last.c.edition
    )
    return (
        select(_last.c.signed_at.label("cleared_at"), *_labelled(tables.check, "check_"), *more)
        .join(
            _other,
            (_other.c.check == _last.c.check)
            & (_other.c.edition == _last.c.edition)
            & (tuple_(_other.c.signed_at, _other.c.slot) < tuple_(_last.c.signed_at, _last.c.slot)),
        )
        .join(tables.check, tables.check.c.id == _last.c.check)
        .where(~superseded.exists())
    )


def _between(statement: Select[Any], column: Any, from_: datetime | None, to: datetime | None) -> Select[Any]:  # noqa: ANN401  # a time column
    """From the first moment on, up to and without the second."""
    if from_ is not None:
        statement = statement.where(column >= from_)
    return statement if to is None else statement.where(column < to)


@dataclass(frozen=True, kw_only=True)
class _Page:
    """Which page of a list is wanted."""

    unit: str | None
    from_: datetime | None
    to: datetime | None
    after: Place | None
    limit: int

    def newest_first(self, statement: Select[Any], time: Any, check: Any) -> Select[Any]:  # noqa: ANN401  # columns
        """The page of a statement whose rows have a time and a check."""
        statement = _between(statement, time, self.from_, self.to)
        if self.unit is not None:
            statement = statement.where(tables.check.c.unit == self.unit)
        if self.after is not None:
            statement = statement.where(tuple_(time, check) < _place(self.after))
        return statement.order_by(time.desc(), check.desc()).limit(self.limit)


def _place(place: Place) -> Any:  # noqa: ANN401  # a row value
    return tuple_(literal(place[0], UtcTime), literal(place[1]))


def _exported(from_: datetime | None, to: datetime | None) -> Select[Any]:
    followed = tables.what_followed
    named = (followed.c.document.label("followed_document"), followed.c.digest.label("followed_digest"))
    with_record = (
        _cleared(*_labelled(tables.frozen, "frozen_"), *named)
        .join(
            tables.frozen,
            (tables.frozen.c.check == _last.c.check) & (tables.frozen.c.edition == _last.c.edition),
        )
        .outerjoin(followed, (followed.c.check == _last.c.check) & (followed.c.edition == _last.c.edition))
    )
    return _between(with_record, _last.c.signed_at, from_, to).order_by(_last.c.signed_at, _last.c.check)


def uncompared_after(position: int) -> Select[Any]:
    """Rounds that both have handed in and nothing has compared."""
    first, second = tables.reading.alias("first"), tables.reading.alias("second")
    done = tables.comparison
    same_round = (
        (second.c.check == first.c.check)
        & (second.c.subject == first.c.subject)
        & (second.c.round == first.c.round)
    )
    compared = select(done.c.round).where(
        done.c.check == first.c.check, done.c.subject == first.c.subject, done.c.round == first.c.round
    )
    waiting = (
        select(first.c.check, first.c.subject, first.c.round)
        .join(second, same_round & (second.c.slot == SECOND))
        .where(first.c.slot == FIRST, ~compared.exists())
        .order_by(first.c.check, first.c.subject, first.c.round)
    )
    return _touched_after(waiting, first.c.check, position)


def unissued_after(position: int) -> Select[Any]:
    """Records that both have signed and that have no PDF."""
    made = select(tables.pdf.c.edition).where(
        tables.pdf.c.check == _last.c.check, tables.pdf.c.edition == _last.c.edition
    )
    waiting = (
        select(_last.c.check, _last.c.edition)
        .join(_other, (_other.c.check == _last.c.check) & (_other.c.edition == _last.c.edition))
        .where(_last.c.slot == FIRST, _other.c.slot == SECOND, ~made.exists())
        .order_by(_last.c.check, _last.c.edition)
    )
    return _touched_after(waiting, _last.c.check, position)


# After these the story of an edition may have ended at once; and after these once nobody came back in time.
_ENDING = (
    Abandoned,
    LedToCheck,
    NextReadingOpened,
    DeviceStopped,
    DrugTakenBack,
    Started,
    StartedWithoutCheck,
)
_LEFT = (DeviceStopped, Signed, Abandoned)
# Sweeps follow each other by seconds; whoever begins to sweep looks at everything once.
_LATELY = timedelta(minutes=5)


def untold_after(position: int, now: datetime) -> Select[Any]:
    """Editions of a record of which it may be time to tell what followed, and is not told."""
    log, told, frozen = tables.log_entry, tables.what_followed, tables.frozen
    is_told = select(told.c.edition).where(told.c.check == frozen.c.check, told.c.edition == frozen.c.edition)
    waiting = (
        select(frozen.c.check, frozen.c.edition)
        .join(tables.check, tables.check.c.id == frozen.c.check)
        .where(~is_told.exists())
        .order_by(frozen.c.check, frozen.c.edition)
    )
    if position == 0:
        return waiting
    touched = select(log.c.infusion).where(
        log.c.position > position, log.c.kind.in_([each.kind for each in _ENDING])
    )
    left = [
        select(log.c.infusion).where(
            log.c.kind.in_([each.kind for each in _LEFT]),
            log.c.at.between(now - after - _LATELY, now - after),
        )
        for after in (TO_CORRECT, LEFT_FOR)
    ]
    return waiting.where(tables.check.c.infusion.in_(touched.union(*left)))


def _touched_after(statement: Select[Any], check: Any, position: int) -> Select[Any]:  # noqa: ANN401  # a column
    """Of checks to which something happened after a position of the log; 0 stands before all."""
    if position == 0:
        return statement
    log = tables.log_entry
    touched = select(log.c.check).where(log.c.position > position, log.c.check.is_not(None))
    return statement.where(check.in_(touched))


class ListReader:
    """Lists over many checks; long ones by keyset, never by offset."""

    _connection: Connection

    def uncompared(self, *, after: int = 0) -> tuple[tuple[str, str, int], ...]:
        """Check, subject and round of whatever both have handed in and nothing has compared.

        Not of a voided round, and not of an abandoned check: what was never compared then stays closed.
        With a position of the log, only of checks to which something happened after it.
        """
        waiting = self._connection.execute(uncompared_after(after))
        found = [(check, subject, number) for check, subject, number in waiting]
        return tuple(each for each in found if not self._given_up(*each))

    def _given_up(self, check: str, subject: str, number: int) -> bool:
        """Whether the check was abandoned, or the round voided; only readings of the sources are voided."""
        log = tables.log_entry
        closing = select(log).where(log.c.check == check, log.c.kind.in_([Abandoned.kind, RoundVoided.kind]))
        happened = [each.event for each in rows.entries(self._connection, closing)]
        return any(
            isinstance(event, Abandoned)
            or (isinstance(event, RoundVoided) and subject == SOURCES and event.round == number)
            for event in happened
        )

    def unissued(self, *, after: int = 0) -> tuple[tuple[str, int], ...]:
        """Check and edition of every record that both have signed and that has no PDF; `after` likewise."""
        waiting = self._connection.execute(unissued_after(after))
        return tuple((check, edition) for check, edition in waiting)

    def untold(self, now: datetime, *, after: int = 0) -> tuple[tuple[str, int], ...]:
        """Check and edition of records of which it may be time to tell what followed; `after` likewise."""
        waiting = self._connection.execute(untold_after(after, now))
        return tuple((check, edition) for check, edition in waiting)

    def stream_cleared(self, from_: datetime | None, to: datetime | None) -> Iterator[ClearedCheck]:
        """All cleared checks of a span with their newest record, by the time of the second signature."""
        # The size stands in both places: without it the driver, or SQLAlchemy, would fetch everything.
        result = self._connection.execute(_exported(from_, to), execution_options={"yield_per": _STREAM})
        for some in result.mappings().partitions(_STREAM):
            for row in some:
                yield rows.cleared(row)

    def ended_checks(
        self,
        unit: str | None,
        *,
        from_: datetime | None = None,
        to: datetime | None = None,
        after: Place | None = None,
        limit: int,
    ) -> tuple[EndedCheck, ...]:
        """A page of checks that both signed or that were given up, the newest first; of both, that counts."""
        log = tables.log_entry
        abandoned = (
            select(log.c.at.label("ended_at"), *_labelled(tables.check, "check_"))
            .join(tables.check, tables.check.c.id == log.c.check)
            .where(log.c.kind.in_(_GIVEN_UP))
        )
        given_up = select(log.c.position).where(log.c.check == _last.c.check, log.c.kind.in_(_GIVEN_UP))
        cleared = _cleared().where(~given_up.exists())
        page = _Page(unit=unit, from_=from_, to=to, after=after, limit=limit)
        # Two short lists from two indexes, merged here: a UNION would be sorted whole by the database.
        lists = (
            self._ended(page.newest_first(abandoned, log.c.at, log.c.check)),
            self._ended(page.newest_first(cleared, _last.c.signed_at, _last.c.check)),
        )
        newest = heapq.merge(*lists, key=lambda each: (each.ended_at, each.check.id), reverse=True)
        return tuple(itertools.islice(newest, limit))

    def _ended(self, statement: Select[Any]) -> list[EndedCheck]:
        return [
            EndedCheck(
                check=part(row, KeptCheck, tables.check, "check_"),
                ended_at=row.get("cleared_at", row.get("ended_at")),
                cleared="cleared_at" in row,
            )
            for row in self._connection.execute(statement).mappings()
        ]
