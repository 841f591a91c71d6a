"""Who holds what is kept as evidence: each holder confirms it, by the number that is read on its seal.

A name that somebody else wrote is no holder: the one who keeps it and the one who takes it are two people.
"""

import unicodedata
from dataclasses import dataclass, replace
from hashlib import sha256

from app.records.emergency_events import EvidenceKept, EvidenceReceived, SealDiffered
from app.records.kept import Entry

OF_CUSTODY = EvidenceKept | EvidenceReceived | SealDiffered
# In the place of the number that was written.
NOT_SHOWN = "not shown"


@dataclass(frozen=True, kw_only=True)
class Custody:
    """What is known of it, without a word that somebody wrote.

    `seal` stands for the number that was written last, as its digest, and is blank while none is.
    `wrote` are all who wrote of what is kept, `read` all who read this number on the seal, and `holder` the
    last of these. `named`: an entry that asked for no confirmation named a holder. `differs`: whoever looked
    last read another number.
    """

    seal: str = ""
    wrote: frozenset[str] = frozenset()
    read: frozenset[str] = frozenset()
    holder: str = ""
    named: bool = False
    differs: bool = False

    @property
    def is_received(self) -> bool:
        """Whether it has a holder."""
        return bool(self.holder) or self.named

    def has_seal(self, number: str) -> bool:
        """Whether a number that was read is the one that was written."""
        return _known_as(number) == self.seal

    def shows_seal_to(self, person: str, *, investigates: bool) -> bool:
        """Whether this person knows the number, or looks into why another was read."""
        return person in self.wrote | self.read or (self.differs and investigates)


NOBODY_HOLDS_IT = Custody()


def _known_as(number: str) -> str:
    """The digest of its letters and digits: a number without any is none."""
    bare = "".join(filter(str.isalnum, unicodedata.normalize("NFKC", number).casefold()))
    return sha256(bare.encode()).hexdigest() if bare else ""


def after(before: Custody, entry: Entry) -> Custody:
    """What is known once one more entry of the same evidence is told."""
    match entry.event:
        case EvidenceKept() as event:
            named = before.named or (bool(event.holder) and not event.to_confirm)
            told = replace(before, wrote=before.wrote | {entry.by}, named=named)
            if not event.seal or before.has_seal(event.seal):
                return told
            # Under another number nobody has confirmed it.
            return replace(told, seal=_known_as(event.seal), read=frozenset(), holder="")
        case EvidenceReceived():
            return replace(before, read=before.read | {entry.by}, holder=entry.by, differs=False)
        case SealDiffered():
            return replace(before, differs=True)
        case _:
            return before


def without_seal(entry: Entry) -> Entry:
    """An entry for whoever has yet to read the number on the seal itself."""
    event = entry.event
    if not (isinstance(event, OF_CUSTODY) and event.seal):
        return entry
    seal = NOT_SHOWN if isinstance(event, EvidenceKept) else ""
    return Entry(**{**vars(entry), "event": replace(event, seal=seal), "canonical": b""})
