"""Acts about something that has no row of its own yet follow each other all the same."""

from datetime import datetime

from app.records.beds import plain
from app.storage import Transaction


def one_at_a_time(tx: Transaction, what: str, now: datetime) -> None:
    """Hold a named row to the transaction's end: who comes meanwhile waits, and then sees what was done.

    On SQLite writers follow each other anyway; PostgreSQL would let two read before either has written.
    """
    tx.take_lease(what, "one at a time", now=now, until=now)


def hold_bed(tx: Transaction, unit: str, bed: str, now: datetime) -> None:
    """Whatever is opened or stopped at a bed follows each other: each sees what the one before it left."""
    one_at_a_time(tx, f"opening {unit} {plain(bed)}", now)
