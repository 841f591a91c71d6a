"""Freeze the canonical record when the last safety step is confirmed."""

from app.base import Act
from app.records import events
from app.records.canonical import canonical, digest
from app.records.kept import FrozenRecord
from app.records.state import Phase
from app.site.loading import Loaded
from app.site.record import document_of
from app.storage import Transaction


def freeze_if_complete(tx: Transaction, act: Act, loaded: Loaded) -> bool:
    """Freeze the record if every step is verified and none is frozen; part of the confirming transaction."""
    state = loaded.state
    if state.phase is not Phase.STEPS or not state.steps_complete:
        return False
    check, edition = state.check.id, state.edition + 1
    document = canonical(document_of(tx, loaded, edition))
    tx.add_frozen(
        FrozenRecord(check=check, edition=edition, at=act.now, document=document, digest=digest(document))
    )
    tx.append(events.RecordFrozen(edition=edition, digest=digest(document)), act=act, check=check)
    return True
