"""What followed a record, from what is stored; made again later it has the same bytes."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from app.records import events
from app.records.document import Names
from app.records.kept import Entry, FrozenRecord, KeptCheck
from app.records.ward_events import DrugTakenBack
from app.records.what_followed import (
    SAYS,
    Ending,
    build_what_followed,
    find_ending,
    told_of,
    who_did,
)
from app.site.loading import Loaded, folded


@dataclass(frozen=True, kw_only=True)
class Followed:
    """The story of one edition to its end."""

    check: KeptCheck
    frozen: FrozenRecord
    entries: tuple[Entry, ...]
    ending: Ending

    @property
    def people(self) -> set[str]:
        """Whoever has a name in it."""
        witnesses = {each.event.witness for each in self.entries if isinstance(each.event, DrugTakenBack)}
        return {person for each in self.entries if (person := who_did(each))} | witnesses

    def document(self, *, until: int, names: Names, says: Iterable[str] = SAYS) -> Mapping[str, Any]:
        """The document, up to an entry of the log, with the names of that moment."""
        return build_what_followed(
            self.check,
            self.frozen,
            self.entries,
            self.ending,
            until=until,
            names=names,
            says=says,
        )


def find_followed(loaded: Loaded, frozen: FrozenRecord) -> Followed | None:
    """What followed an edition, once its story has ended; `loaded` is of that moment."""
    ending = find_ending(loaded.state, loaded.infusion, edition=frozen.edition)
    if ending is None:
        return None
    entries = _until_superseded(loaded, frozen) if ending is Ending.SUPERSEDED else loaded.entries
    told = told_of(entries, frozen)
    return Followed(
        check=loaded.state.check,
        frozen=frozen,
        entries=told,
        ending=ending,
    )


def _until_superseded(loaded: Loaded, frozen: FrozenRecord) -> tuple[Entry, ...]:
    """The entries up to the one after which the edition no longer counted."""
    entries, check = loaded.entries, loaded.state.check
    begin = next(place for place, each in enumerate(entries) if _freezes(each, frozen))
    for end in range(begin + 2, len(entries)):
        so_far = folded(
            check, entries[:end], loaded.comparisons, rules=loaded.rules, now=loaded.state.now
        ).state
        if so_far.edition != frozen.edition or not so_far.frozen_digest:
            return entries[:end]
    return entries


def _freezes(entry: Entry, frozen: FrozenRecord) -> bool:
    event = entry.event
    return (
        entry.check == frozen.check
        and isinstance(event, events.RecordFrozen)
        and event.edition == frozen.edition
    )
