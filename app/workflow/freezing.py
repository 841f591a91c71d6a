"""Freeze the canonical record when the last thing that it holds is confirmed."""

from datetime import datetime

from app.base import Act
from app.records import events
from app.records.canonical import canonical, digest
from app.records.kept import FrozenRecord
from app.site.loading import Loaded
from app.site.record import concerned, document_of, names_now
from app.storage import Transaction


def freeze_if_complete(
    tx: Transaction, loaded: Loaded, *, act: Act | None = None, at: datetime | None = None
) -> bool:
    """Freeze the record if it is due; part of the transaction of the last thing that it waited for.

    Like every event it is a person's act, or, with `at`, what the site did by itself.
    """
    state = loaded.state
    if not state.is_to_be_frozen:
        return False
    check, edition = state.check.id, state.edition + 1
    # The log's head is held by now: no name changes between this and the entry that says it is frozen.
    names = names_now(tx, state.check.unit, concerned(loaded))
    document = canonical(document_of(tx, loaded, edition, names=names))
    tx.add_frozen(
        FrozenRecord(check=check, edition=edition, at=state.now, document=document, digest=digest(document))
    )
    tx.append(events.RecordFrozen(edition=edition, digest=digest(document)), act=act, at=at, check=check)
    return True
