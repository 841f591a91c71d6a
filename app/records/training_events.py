"""What happens in an installation for training alone: cards are dealt, and a check is done on them."""

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
