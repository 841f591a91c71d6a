"""What all writing shares: the order of locks, adding a row, and being spent after a refusal."""

from collections.abc import Iterable, Sequence
from contextlib import suppress
from functools import cache
from typing import Any, TypeVar, overload

from sqlalchemy import Connection, CursorResult, Executable, Table, insert
from sqlalchemy.exc import IntegrityError

from app.records.kept import Entry, KeptCheck
from app.storage import tables
from app.storage.refusals import ConstraintBroken, broken_constraint
from app.storage.rows import as_row, find_one, rows_by

Why = TypeVar("Why")

# The check's row is locked, then its infusion's. SQLite's writers are alone anyway and its dialect leaves FOR
# UPDATE out. The lock is of the kind that lets other rows go on pointing at what is held.
_HOLD_CHECK = (
    rows_by(tables.check, "id")
    .join(tables.infusion, tables.infusion.c.id == tables.check.c.infusion)
    .with_for_update(key_share=True)
)
_HOLD_INFUSION = rows_by(tables.infusion, "id").with_for_update(key_share=True)
# Made once for each table.
_insert_into = cache(insert)


class LockedOutOfOrder(RuntimeError):  # noqa: N818  # named for what happened
    """A bug: a check was first touched after the log's head was locked, and two such could wait for ever."""


class SpentTransaction(RuntimeError):  # noqa: N818  # named for what happened
    """A bug: the database had refused a row, and the transaction was then left as if it could commit."""


class Writer:
    """One transaction's hold on the database."""

    def __init__(self, connection: Connection) -> None:
        """Write through one connection, in its transaction."""
        self._connection = connection
        # Checks whose row, and whose infusion's, this transaction holds.
        self._held: dict[str, KeptCheck] = {}
        self._holds_log_head = False
        self._appended: list[Entry] = []
        # People of whose accounts something was changed.
        self._touched: dict[str, None] = {}
        self._spent = False
        self._refused = False

    @overload
    def refuse(self) -> None: ...

    @overload
    def refuse(self, why: Why) -> Why: ...

    def refuse(self, why: Why | None = None) -> Why | None:
        """Let nothing of this transaction stay; gives back `why`, so that a refusal is one line."""
        self._refused = True
        return why

    def to_be_committed(self) -> bool:
        """Whether a clean exit commits; raises SpentTransaction when it cannot."""
        if self._spent and not self._refused:
            raise SpentTransaction
        return not self._refused

    def lock_check(self, check: str) -> KeptCheck:
        """Hold the check's row, and its infusion's, until the end: two acts on one check follow each other.

        Raises LookupError for a check that is not there.
        """
        if check in self._held:
            return self._held[check]
        if self._holds_log_head:
            raise LockedOutOfOrder(check)
        held = find_one(self._connection, KeptCheck, _HOLD_CHECK, id=check)
        if held is None:
            raise LookupError(check)
        self._held[check] = held
        return held

    def _lock_infusion(self, infusion: str) -> None:
        self._connection.execute(_HOLD_INFUSION, {"id": infusion})

    def _add(self, table: Table, kept: Any) -> None:  # noqa: ANN401  # any kept dataclass
        self._insert(table, as_row(kept, table))

    def _add_to_check(self, table: Table, kept: Any) -> None:  # noqa: ANN401  # any kept dataclass with a check
        # Of a check that is not there, the foreign key says so by its name.
        with suppress(LookupError):
            self.lock_check(kept.check)
        self._add(table, kept)

    def _add_all(self, table: Table, kept: Iterable[Any]) -> None:
        """Several rows in one statement."""
        rows = [as_row(each, table) for each in kept]
        if rows:
            self._run(_insert_into(table), table, rows[0], more=rows[1:])

    def _insert(self, table: Table, row: dict[str, Any]) -> None:
        self._run(_insert_into(table), table, row)

    def _run(
        self, statement: Executable, table: Table, row: dict[str, Any], more: Sequence[dict[str, Any]] = ()
    ) -> CursorResult[Any]:
        """Run a statement that adds or changes `row`; what the database refuses is told by its name alone."""
        try:
            return self._connection.execute(statement, [row, *more] if more else row)
        except IntegrityError as error:
            self._spent = True
            # Without the cause: PostgreSQL's own message may quote the row, and errors end up in logs.
            raise ConstraintBroken(broken_constraint(error, self._connection, table, row)) from None
