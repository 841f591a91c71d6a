"""What is inside a sealed draft or reading, and the names it is bound to."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from app.records.canonical import canonical
from app.records.formats import READING
from app.records.reading import Answers


@dataclass(frozen=True, kw_only=True)
class Opened:
    """An opened envelope's content: the answers and the salt that made its digest unguessable.

    `kept` is only a draft's: at which version of the draft each source was written last.
    """

    salt: str
    answers: Answers
    kept: Mapping[str, int] = field(default_factory=dict)


def reading_content(*, salt: str, answers: Answers) -> bytes:
    """The bytes that are sealed; with a fresh salt: plausible doses are few enough to try them all."""
    return canonical({"format": READING.newest, "salt": salt, "answers": answers})


def draft_content(*, salt: str, answers: Answers, kept: Mapping[str, int]) -> bytes:
    """The same of a draft, with what tells a later window whether it shows a source as it stands."""
    return canonical({"format": READING.newest, "salt": salt, "answers": answers, "kept": dict(kept)})


def opened(content: bytes) -> Opened:
    """Read what one of the two above wrote."""
    document = json.loads(content)
    READING.version_of(document)
    return Opened(salt=document["salt"], answers=document["answers"], kept=document.get("kept", {}))


def draft_context(check: str, subject: str, number: int, person: str) -> tuple[str, ...]:
    """A draft opens only for this check, round and person."""
    return ("draft", check, subject, str(number), person)


def drug_context(infusion: str, check: str, number: int, person: str) -> tuple[str, ...]:
    """What one person read of drug that is taken back; it opens as nothing else."""
    return ("drug", infusion, check, str(number), person)


def reading_context(check: str, subject: str, number: int, person: str) -> tuple[str, ...]:
    """A reading opens only for this check, round and person, and never as a draft."""
    return ("reading", check, subject, str(number), person)
