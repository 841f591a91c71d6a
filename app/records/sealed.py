"""What is inside a sealed draft or reading, and the names it is bound to."""

import json
from dataclasses import dataclass

from app.records.canonical import canonical
from app.records.formats import READING
from app.records.reading import Answers


@dataclass(frozen=True, kw_only=True)
class Opened:
    """An opened envelope's content: the answers and the salt that made its digest unguessable."""

    salt: str
    answers: Answers


def reading_content(*, salt: str, answers: Answers) -> bytes:
    """The bytes that are sealed; with a fresh salt: plausible doses are few enough to try them all."""
    return canonical({"format": READING.newest, "salt": salt, "answers": answers})


def opened(content: bytes) -> Opened:
    """Read what `reading_content` wrote."""
    document = json.loads(content)
    READING.version_of(document)
    return Opened(salt=document["salt"], answers=document["answers"])


def draft_context(check: str, subject: str, number: int, person: str) -> tuple[str, ...]:
    """A draft opens only for this check, round and person."""
    return ("draft", check, subject, str(number), person)


def reading_context(check: str, subject: str, number: int, person: str) -> tuple[str, ...]:
    """A reading opens only for this check, round and person, and never as a draft."""
    return ("reading", check, subject, str(number), person)
