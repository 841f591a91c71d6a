"""Reading whole tables as they are stored, for whoever looks whether somebody changed them."""

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select, tuple_

from app.records.course_kinds import STARTS
from app.records.events import CheckOpened, RecordIssued, WhatFollowedIssued
from app.storage import tables
from app.storage.rows import found
from app.storage.standing import accounts_standing

# Rows held in memory at a time. Most tables have fewer: one question, and no cursor at the server.
_SOME = 200


class WholeReader:
    """Rows as columns and values, with nothing made of them."""

    _connection: Connection

    def rows(self, table: str, **of: str) -> Iterator[Mapping[str, Any]]:
        """The rows of a table in the order of its key, in bounded memory; `of` are values of columns."""
        read = tables.metadata.tables[table]
        wanted = select(read).where(*(read.c[name] == value for name, value in of.items()))
        key = tuple(read.primary_key)
        ordered = following = wanted.order_by(*key).limit(_SOME)
        while some := tuple(found(self._connection, following)):
            yield from some
            if len(some) < _SOME:
                return
            last = tuple(some[-1][each.name] for each in key)
            following = ordered.where(tuple_(*key) > last)

    def accounts_standing(self) -> dict[str, str]:
        """The digest of what of each account may change, by the person's id."""
        return accounts_standing(self._connection)

    def opened_checks(self, *, after: int, limit: int | None = None) -> tuple[tuple[int, str], ...]:
        """The next checks in the order in which they were opened: where the log says so, and the check."""
        log = tables.log_entry
        wanted = select(log.c.position, log.c.check).where(log.c.kind == CheckOpened.kind)
        some = wanted.where(log.c.position > after).order_by(log.c.position).limit(limit)
        return tuple((position, check) for position, check in self._connection.execute(some))

    def issued_at(self, checks: Collection[str]) -> tuple[int, ...]:
        """Where the log tells that a sealed file of one of these checks was issued."""
        log = tables.log_entry
        kinds = (RecordIssued.kind, WhatFollowedIssued.kind)
        wanted = select(log.c.position).where(log.c.check.in_(checks), log.c.kind.in_(kinds))
        return tuple(self._connection.scalars(wanted))

    def ever_started(self) -> tuple[tuple[str, str], ...]:
        """Every infusion that the log says was started, checked or not, and the unit where it began."""
        log, infusion = tables.log_entry, tables.infusion
        told = select(log.c.position).where(log.c.infusion == infusion.c.id, log.c.kind.in_(STARTS))
        wanted = select(infusion.c.id, infusion.c.unit).where(told.exists()).order_by(infusion.c.id)
        return tuple((each, unit) for each, unit in self._connection.execute(wanted))

    def began_at(self, infusion: str) -> datetime | None:
        """When the log first tells of an infusion."""
        log = tables.log_entry
        first = select(log.c.at).where(log.c.infusion == infusion).order_by(log.c.position).limit(1)
        return self._connection.scalar(first)

    def never_kept(self) -> bool:
        """Whether the log tells of an infusion that is not there."""
        log, infusion = tables.log_entry, tables.infusion
        kept = select(infusion.c.id).where(infusion.c.id == log.c.infusion)
        told = select(log.c.position).where(log.c.infusion.is_not(None), ~kept.exists()).limit(1)
        return self._connection.execute(told).first() is not None

    def never_opened(self, table: str, column: str, opened: str) -> Iterator[str]:
        """What the rows of a table name in a column, where the log's column `opened` names no such thing."""
        read, log = tables.metadata.tables[table], tables.log_entry
        told = select(log.c.position).where(log.c[opened] == read.c[column])
        wanted = select(read.c[column]).where(~told.exists()).distinct().order_by(read.c[column])
        yield from (each for each in self._connection.scalars(wanted) if each)
