"""Lists over many checks: what is left to finish, what was cleared, what has ended."""

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, select

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
from app.records.kept import FIRST, SECOND, SOURCES
from app.records.ward_events import DrugTakenBack
from app.records.what_followed import LEFT_FOR, TO_CORRECT
from app.storage import rows, tables

_last = tables.signature.alias("last_signature")
_other = tables.signature.alias("other_signature")


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


def untold_after(position: int, since: datetime | None, now: datetime) -> Select[Any]:
    """Editions of a record of which it may be time to tell what followed, and is not told.

    With a position and a moment, of those to which something happened after the one, or whose time ran out
    after the other: however long nobody has looked since, as on a machine that slept.
    """
    log, told, frozen = tables.log_entry, tables.what_followed, tables.frozen
    is_told = select(told.c.edition).where(told.c.check == frozen.c.check, told.c.edition == frozen.c.edition)
    waiting = (
        select(frozen.c.check, frozen.c.edition)
        .join(tables.check, tables.check.c.id == frozen.c.check)
        .where(~is_told.exists())
        .order_by(frozen.c.check, frozen.c.edition)
    )
    if position == 0 or since is None:
        return waiting
    # By a clock that was put back what ran out in between does so once more.
    looked = min(since, now)
    touched = select(log.c.infusion).where(
        log.c.position > position, log.c.kind.in_([each.kind for each in _ENDING])
    )
    left = [
        select(log.c.infusion).where(
            log.c.kind.in_([each.kind for each in _LEFT]),
            log.c.at.between(looked - after, now - after),
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

    def untold(
        self, now: datetime, *, after: int = 0, since: datetime | None = None
    ) -> tuple[tuple[str, int], ...]:
        """Check and edition of records of which it may be time to tell what followed.

        With a position and a moment, only of those to which something happened, or whose time ran out, since.
        """
        waiting = self._connection.execute(untold_after(after, since, now))
        return tuple((check, edition) for check, edition in waiting)
