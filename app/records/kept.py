"""What storage keeps and hands back: frozen rows, all times aware UTC, no value ever as a number."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any

import orjson

from app.records.events import Event
from app.records.formats import COMPARISON, READ, RECORD, WHAT_FOLLOWED, Format

SOURCES = "sources"
PRIMING = "priming"
# What stands in the fields of a page that its author has not kept yet: a draft, never a reading.
TYPING = "typing"
# The same of what is observed and read at the safety steps.
STEPS_TYPING = "steps-typing"

FIRST, SECOND = 1, 2
# The two as the engine, the record and the exports name them.
A, B = "A", "B"
LETTERS = (A, B)
LETTER_OF = {FIRST: A, SECOND: B}
OTHER = {FIRST: SECOND, SECOND: FIRST}
# Cases and results that are held as they were read: of some hundred checks.
_COMPARISONS = 512


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry of the log: an event, who caused it, where it stands, and its canonical bytes."""

    position: int
    at: datetime
    by: str
    infusion: str
    check: str
    session: str
    device: str
    signed_in_at: datetime | None
    event: Event
    canonical: bytes


@dataclass(frozen=True, kw_only=True)
class KeptInfusion:
    """One patient's course of PCA, opened by unit and bed alone."""

    id: str
    unit: str
    bed: str
    opened_at: datetime


@dataclass(frozen=True, kw_only=True)
class KeptCheck:
    """One two-person check."""

    id: str
    infusion: str
    kind: str
    unit: str
    bed: str
    opened_by: str
    opened_at: datetime


@dataclass(frozen=True, kw_only=True)
class Participant:
    """Who holds slot 1 or 2 of a check."""

    check: str
    slot: int
    person: str
    joined_at: datetime


@dataclass(frozen=True, kw_only=True)
class KeptReading:
    """A handed-in reading: sealed, committed to, and never changed."""

    id: str
    check: str
    subject: str
    round: int
    slot: int
    person: str
    envelope: bytes
    commitment: str
    handed_in_at: datetime
    session: str
    device: str
    signed_in_at: datetime


# Each load of a check reads its comparisons. Told apart by the bytes themselves, like published rules.
@lru_cache(maxsize=_COMPARISONS)
def _read(of: Format, content: bytes) -> Mapping[str, Any]:
    return MappingProxyType(_known(of, content))


def _known(of: Format, content: bytes) -> dict[str, Any]:
    """JSON of a format that is known here; those who read it find the same names in every version."""
    document: dict[str, Any] = orjson.loads(content)
    of.version_of(document)
    return document


@dataclass(frozen=True, kw_only=True)
class KeptComparison:
    """What the engine made of one round: the opened case and the result, as canonical JSON bytes."""

    check: str
    subject: str
    round: int
    at: datetime
    engine: str
    case: bytes
    result: bytes

    @cached_property
    def opened(self) -> Mapping[str, Any]:
        """The opened case, read once."""
        return dict(_read(READ, self.case))

    @cached_property
    def told(self) -> Mapping[str, Any]:
        """The result, read once."""
        return dict(_read(COMPARISON, self.result))

    @property
    def unseen(self) -> str:
        """Which syringe both found on that nobody had checked on the device; blank where there was none."""
        return str(self.told.get("unseen", ""))

    @property
    def loaded_again(self) -> str:
        """Which part-used syringe of the account it was that both read; blank where it was another."""
        return str(self.told.get("loaded_again", ""))


@dataclass(frozen=True, kw_only=True)
class FrozenRecord:
    """The canonical record that both sign, as bytes."""

    check: str
    edition: int
    at: datetime
    document: bytes
    digest: str

    @cached_property
    def told(self) -> Mapping[str, Any]:
        """The document, read once."""
        return _known(RECORD, self.document)


@dataclass(frozen=True, kw_only=True)
class KeptSignature:
    """One clinician's signature over a frozen record: `jws`, made with the key `kid`."""

    check: str
    edition: int
    slot: int
    person: str
    printed_name: str
    digest: str
    meaning: str
    signed_at: datetime
    session: str
    device: str
    signed_in_at: datetime
    kid: str = ""
    jws: str = ""


@dataclass(frozen=True, kw_only=True)
class KeptPdf:
    """The PDF made from a frozen record that both have signed."""

    check: str
    edition: int
    content: bytes
    digest: str
    issued_at: datetime


@dataclass(frozen=True, kw_only=True)
class KeptFollowed:
    """What followed a frozen record, told to its end: the document, and the sealed PDF with its digest."""

    check: str
    edition: int
    document: bytes
    content: bytes
    digest: str
    issued_at: datetime

    @cached_property
    def told(self) -> Mapping[str, Any]:
        """The document, read once."""
        return _known(WHAT_FOLLOWED, self.document)


@dataclass(frozen=True, kw_only=True)
class HelpTaker:
    """A third person who took a request for help, in turn: each that follows took it over."""

    help: str
    turn: int
    check: str
    person: str
    taken_at: datetime


@dataclass(frozen=True, kw_only=True)
class JoinCode:
    """The digest of a short code by which a second device finds a check."""

    digest: str
    check: str
    expires_at: datetime


@dataclass(frozen=True, kw_only=True)
class SiteData:
    """One published version of the drug library, the policy, the safety steps or the packs.

    Its content is canonical JSON; `number` counts the versions of one document.
    """

    what: str
    version: str
    content: bytes
    digest: str
    in_force_from: datetime
    number: int = 1


@dataclass(frozen=True, kw_only=True)
class Unit:
    """A ward or other unit."""

    id: str
    name: str


@dataclass(frozen=True, kw_only=True)
class Session:
    """A signed-in session, known by the digest of its token."""

    digest: str
    person: str
    device: str
    unit: str
    signed_in_at: datetime
    last_seen_at: datetime
    ended_at: datetime | None
    # What was given: id and secret, or the six digits of the shift session, which may also begin with it.
    method: str
    shift_session: str


@dataclass(frozen=True, kw_only=True)
class ShiftSession:
    """Begun with id and secret at one screen; until it ends, six digits open a session there alone.

    `tries` are the wrong ones since the last right one.
    """

    id: str
    person: str
    device: str
    unit: str
    began_at: datetime
    pin_hash: str
    tries: int
    ended_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Locked:
    """Somebody whose shift session lives at a screen, and since when nobody used it."""

    shift_session: str
    person: str
    printed_name: str
    since: datetime


@dataclass(frozen=True, kw_only=True)
class Draft:
    """One clinician's unfinished reading, sealed; only its author can open it."""

    check: str
    subject: str
    round: int
    person: str
    version: int
    envelope: bytes
    saved_at: datetime


@dataclass(frozen=True, kw_only=True)
class Throttle:
    """Failed tries of one account, kept in the database so that every process counts alike."""

    key: str
    failures: int
    not_before: datetime | None


@dataclass(frozen=True, kw_only=True)
class Access:
    """One look at patient data: who, what, when."""

    at: datetime
    person: str
    session: str
    check: str
    what: str
