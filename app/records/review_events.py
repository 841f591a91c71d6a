"""What is done with a finding of a check that has ended: looked through, handed to somebody, classified."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class FindingReviewed(Event):
    """Somebody has looked through the finding at this place; `text` is what they wrote of it, if anything."""

    kind: ClassVar[str] = "finding-reviewed"
    subject: str
    round: int
    number: int
    text: str


@dataclass(frozen=True, kw_only=True)
class FindingAssigned(Event):
    """Somebody gave it to a person to look through."""

    kind: ClassVar[str] = "finding-assigned"
    subject: str
    round: int
    number: int
    to: str
    text: str


@dataclass(frozen=True, kw_only=True)
class FindingCommented(Event):
    """Somebody wrote something beside it."""

    kind: ClassVar[str] = "finding-commented"
    subject: str
    round: int
    number: int
    text: str


@dataclass(frozen=True, kw_only=True)
class FindingClassified(Event):
    """A third person says what it was: the category of the published index, and whose error of reading.

    `place` is 1 for the first who did and 2 for the second, who was not shown what the first had said.
    `readers` are the letters of those who misread, none where it was no reader's error.
    """

    kind: ClassVar[str] = "finding-classified"
    subject: str
    round: int
    number: int
    place: int
    category: str
    readers: str
    factors: tuple[str, ...]
    text: str
