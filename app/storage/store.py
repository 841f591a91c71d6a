"""The store: opens transactions and is the only one to commit."""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from enum import Enum

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from app.storage.engine import (
    PATIENCE,
    database_url,
    join_moment,
    make_engine,
    moment_of,
    reading_only,
    sqlite_file,
)
from app.storage.queue import WaitedTooLong, WriterGate
from app.storage.read_ahead import ReadAhead
from app.storage.reader import Reader
from app.storage.remembered import Memory
from app.storage.transaction import Transaction

# What PostgreSQL says: to a role that has not the right, and where it only reads (insufficient_privilege,
# read_only_sql_transaction); of its disk and its memory (disk_full, out_of_memory); to whoever waits too long
# or is one too many (lock_not_available, too_many_connections).
_NOT_ALLOWED = frozenset({"42501", "25006"})
_FULL = frozenset({"53100", "53200"})
_BUSY = frozenset({"55P03", "53300"})
# What SQLite says of a file that is none of its own, or not whole.
_NOT_WHOLE = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})


class NestedTransaction(RuntimeError):  # noqa: N818  # named for what happened
    """A bug: a transaction was begun inside another one of the same thread."""


class Trouble(Enum):
    """Why a database does not do what it is asked."""

    LOST = "it cannot be reached"
    FULL = "it is full"
    BUSY = "it is too busy"
    DAMAGED = "its file is damaged"


class StoreUnavailable(Exception):  # noqa: N818  # named for what happened
    """The database is out of reach, full, too busy or damaged.

    With `outcome_known` nothing was written. Without it the connection broke while committing: read again
    before anyone is told.
    """

    def __init__(self, *, outcome_known: bool, trouble: Trouble = Trouble.LOST) -> None:
        outcome = "nothing was written" if outcome_known else "the outcome is not known"
        super().__init__(f"{trouble.value}, {outcome}")
        self.outcome_known, self.trouble = outcome_known, trouble


def is_out_of_reach(error: Exception) -> bool:
    """Whether this is no fault of what is stored: the database cannot be reached, or does not let us in."""
    is_closed = isinstance(error, DBAPIError) and getattr(error.orig, "sqlstate", "") in _NOT_ALLOWED
    return is_closed or isinstance(error, OperationalError | PoolTimeoutError | WaitedTooLong)


def trouble_of(error: Exception) -> Trouble:
    """What is wrong, by what the driver says."""
    if isinstance(error, PoolTimeoutError | WaitedTooLong):
        return Trouble.BUSY
    said = error.orig if isinstance(error, DBAPIError) else error
    code, state = getattr(said, "sqlite_errorcode", 0) & 0xFF, getattr(said, "sqlstate", "") or ""
    if code in _NOT_WHOLE:
        return Trouble.DAMAGED
    if code == sqlite3.SQLITE_FULL or state in _FULL:
        return Trouble.FULL
    return Trouble.BUSY if code == sqlite3.SQLITE_BUSY or state in _BUSY else Trouble.LOST


class _Outcome:
    """Whether it is known what became of a transaction."""

    known = True


@contextmanager
def _unavailable() -> Iterator[_Outcome]:
    outcome = _Outcome()
    try:
        yield outcome
    except Exception as error:
        if not is_out_of_reach(error) and trouble_of(error) is not Trouble.DAMAGED:
            raise
        raise StoreUnavailable(outcome_known=outcome.known, trouble=trouble_of(error)) from error


class Store:
    """A database, in which each action is one transaction."""

    def __init__(self, engine: Engine, gate: WriterGate | None) -> None:
        """Use an engine; `gate` is what writers pass first, None where the database queues them itself."""
        self._engine = engine
        self._reading = reading_only(engine)
        self._gate = gate
        self._memory = Memory()
        self._thread = threading.local()

    @contextmanager
    def write(self) -> Iterator[Transaction]:
        """One transaction: committed once at a clean exit, undone by an exception or by `refuse()`.

        Raises StoreUnavailable when the database cannot be reached, or does not let us in within its time.
        """
        with (
            self._alone_in_thread(),
            _unavailable() as outcome,
            self._turn(),
            self._engine.connect() as connection,
        ):
            connection.execution_options(writing=True)
            with connection.begin() as begun:
                transaction = Transaction(connection, self._memory)
                yield transaction
                if transaction.to_be_committed():
                    transaction.tell_accounts()
                    outcome.known = False
                    begun.commit()
                else:
                    begun.rollback()

    @contextmanager
    def read(self) -> Iterator[Reader]:
        """A snapshot that cannot write: everything read inside is of one moment; raises StoreUnavailable."""
        with self._snapshot() as connection:
            yield Reader(connection, self._memory)

    @contextmanager
    def read_ahead(self, moment: str | None = None) -> Iterator[ReadAhead]:
        """The same, for whoever goes through many checks; of the moment that another process sees, too."""
        with self._snapshot() as connection:
            if moment is not None:
                join_moment(connection, moment)
            yield ReadAhead(connection, self._memory)

    @contextmanager
    def read_ahead_with(self, others: Callable[[str], None]) -> Iterator[ReadAhead]:
        """The same, where `others` let other processes begin to read at the same moment."""
        with ExitStack() as held:
            held.enter_context(_unavailable())
            held.enter_context(self._nobody_writes())
            with self._snapshot() as connection:
                others(moment_of(connection))
                held.close()
                yield ReadAhead(connection, self._memory)

    @contextmanager
    def _nobody_writes(self) -> Iterator[None]:
        """Writers of SQLite wait; PostgreSQL gives one moment to several readers by itself."""
        if self._gate is None:
            yield
            return
        with self._gate.turn(), self._engine.connect() as connection:
            connection.execution_options(writing=True)
            with connection.begin() as begun:
                yield
                begun.rollback()

    @contextmanager
    def _snapshot(self) -> Iterator[Connection]:
        with (
            self._alone_in_thread(),
            _unavailable(),
            self._reading.connect() as connection,
            connection.begin(),
        ):
            yield connection

    @property
    def address(self) -> str:
        """Where it is, with whatever opens it: for a process of our own, and never to be shown."""
        return self._engine.url.render_as_string(hide_password=False)

    def close(self) -> None:
        """Give every connection back."""
        self._reading.dispose()
        self._engine.dispose()

    def _turn(self) -> AbstractContextManager[None]:
        return nullcontext() if self._gate is None else self._gate.turn()

    @contextmanager
    def _alone_in_thread(self) -> Iterator[None]:
        # A second writer in one thread would wait for itself; a reader would not see what the first wrote.
        if getattr(self._thread, "busy", False):
            raise NestedTransaction
        self._thread.busy = True
        try:
            yield
        finally:
            self._thread.busy = False


def open_store(address: str) -> Store:
    """The store at a database address; the schema must be there already (see `migrate`)."""
    url = database_url(address)
    file = sqlite_file(url)
    return Store(make_engine(url), None if file is None else WriterGate(file, patience=PATIENCE))
