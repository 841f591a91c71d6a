"""What happens in an installation for training alone: cards dealt, checks done on them, records signed."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class CardSetDealt(Event):
    """A set of cards was printed; what stands on them, and what is wrong, is sealed: all are equally long."""

    kind: ClassVar[str] = "card-set-dealt"
    number: int
    sealed: str


@dataclass(frozen=True, kw_only=True)
class CardSetTaken(Event):
    """A check is done on a set of cards: each set serves one check."""

    kind: ClassVar[str] = "card-set-taken"
    number: int


@dataclass(frozen=True, kw_only=True)
class CompetencySigned(Event):
    """Somebody signed the record of their own checks on cards: `document` is what was signed, as it stands.

    `record` names whose record it is, and `edition` counts those of this person.
    """

    kind: ClassVar[str] = "competency-signed"
    record: str
    edition: int
    document: str
    printed_name: str
    meaning: str
    kid: str
    signature: str
    beside: str


@dataclass(frozen=True, kw_only=True)
class CompetencyReviewed(Event):
    """A trainer, who is another person, signed the same bytes."""

    kind: ClassVar[str] = "competency-reviewed"
    record: str
    edition: int
    digest: str
    printed_name: str
    meaning: str
    kid: str
    signature: str
    beside: str


@dataclass(frozen=True, kw_only=True)
class CompetencyIssued(Event):
    """What both signed was made into a sealed PDF."""

    kind: ClassVar[str] = "competency-issued"
    record: str
    edition: int
    digest: str
    pdf_digest: str
