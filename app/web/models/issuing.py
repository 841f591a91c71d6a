"""A syringe that is out, as pages show it."""

from dataclasses import dataclass
from datetime import datetime

from app.records.issued import Issued
from app.records.written import as_data
from app.words.issued import issued_words


@dataclass(frozen=True, kw_only=True)
class OutShown:
    """One that was issued, and is neither put on nor given back."""

    position: int
    at: datetime
    number: str
    says: str


def out_shown(issued: Issued) -> OutShown:
    """As it was written."""
    return OutShown(
        position=issued.position,
        at=issued.at,
        number=issued.event.number,
        says=issued_words(as_data(issued.event)),
    )
