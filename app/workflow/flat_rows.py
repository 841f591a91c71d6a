"""Make the flat rows of findings and of ended checks again, from what is stored of each check."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.records.kept_rows import RowsOfCheck, are_as_made, lacking
from app.site.flat_rows import kept_rows, made_reached, made_rows
from app.site.installation import Site
from app.site.loading import load_check
from app.storage import Transaction

# Checks of one transaction: nobody at the bedside waits for long.
_AT_ONCE = 10


@dataclass(frozen=True, kw_only=True)
class Made:
    """What came of one check: how many rows were missing and were added, and whether the others are right."""

    check: str
    added: int
    is_right: bool


def make_rows(site: Site, now: datetime) -> Iterator[Made]:
    """Add each row that is missing; one that differs stays as it is and is named. Safe at any time."""
    after = 0
    while True:
        with site.store.write() as tx:
            opened = tx.opened_checks(after=after, limit=_AT_ONCE)
            made = [_make(site, tx, check, now) for _, check in opened]
        yield from made
        if not opened:
            return
        after = opened[-1][0]


def _make(site: Site, tx: Transaction, check_id: str, now: datetime) -> Made:
    # Whoever acts on it meanwhile waits.
    loaded = load_check(tx, tx.lock_check(check_id), now)
    kept, made = kept_rows(tx, check_id), made_rows(site, tx, loaded)
    missing = lacking(kept, made)
    _add(tx, missing)
    was_reached, is_reached = {*tx.reached_rows(check_id)}, {*made_reached(tx, made)}
    tx.add_reached(is_reached - was_reached)
    added = len(missing.findings) + len(missing.settled) + (missing.ended is not None)
    return Made(
        check=check_id,
        added=added + len(is_reached - was_reached),
        is_right=are_as_made(kept, made) and was_reached <= is_reached,
    )


def _add(tx: Transaction, missing: RowsOfCheck) -> None:
    tx.add_findings(missing.findings)
    if missing.ended is not None:
        tx.add_ended(missing.ended)
    tx.add_settled(missing.settled)
