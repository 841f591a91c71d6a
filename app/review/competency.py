"""What a person's checks on training cards add up to, and the record of it that is signed."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.formats import COMPETENCY
from app.review.durations import Spread, spread
from app.review.errors import Error
from app.review.intervals import Share

_RECORD = "competency-"


@dataclass(frozen=True, kw_only=True)
class Trained:
    """One check on a set of cards, of one of its two.

    `error` is what was wrong, None where nothing was. `caught` is None where nothing was wrong, or where
    reading 1 of both was never compared; `seconds` from the opening, or from joining, to the own hand-in.
    """

    check: str
    on: datetime
    number: int
    error: Error | None
    caught: bool | None
    seconds: int | None


@dataclass(frozen=True, kw_only=True)
class Competency:
    """All of them: the share of what could be caught, None where nothing could, and how the times lie."""

    lines: tuple[Trained, ...]
    caught: Share | None
    took: Spread | None


@dataclass(frozen=True, kw_only=True)
class Missed:
    """Of one kind of error: how often somebody read a set with it, and in how many of these it was missed."""

    error: Error
    read: int
    missed: int


@dataclass(frozen=True, kw_only=True)
class Holder:
    """Whose record it is."""

    person: str
    printed_name: str
    staff_number: str


def competency(lines: Sequence[Trained]) -> Competency:
    """What they add up to."""
    judged = [each.caught for each in lines if each.caught is not None]
    return Competency(
        lines=tuple(lines),
        caught=Share(count=sum(judged), of=len(judged)) if judged else None,
        took=spread(each.seconds for each in lines if each.seconds is not None),
    )


def missed_by_kind(lines: Iterable[Trained]) -> tuple[Missed, ...]:
    """Each kind of error that could be caught, the one most often missed first."""
    judged = [(each.error, each.caught) for each in lines if each.error and each.caught is not None]
    read = Counter(error for error, _ in judged)
    missed = Counter(error for error, caught in judged if not caught)
    told = (Missed(error=error, read=read[error], missed=missed[error]) for error in Error if read[error])
    return tuple(sorted(told, key=lambda each: (-each.missed / each.read, -each.missed)))


def record_of(person: str) -> str:
    """What the records of one person are called; each that is signed is an edition of it."""
    return _RECORD + person


def person_of(record: str) -> str:
    """Whose record it is."""
    return record.removeprefix(_RECORD)


def build_record(
    lines: Iterable[Trained], *, edition: int, holder: Holder, site: str, zone: str, invented: bool
) -> dict[str, Any]:
    """The document that is signed: each check on cards that had ended, and nothing computed of them."""
    return {
        "format": COMPETENCY.newest,
        "record": record_of(holder.person),
        "edition": edition,
        "site": site,
        "zone": zone,
        "invented": invented,
        "holder": vars(holder),
        "checks": [
            {
                "check": each.check,
                "ended_at": each.on.isoformat(timespec="seconds"),
                "set": each.number,
                "wrong": each.error.value if each.error else None,
                "caught": each.caught,
                "seconds": each.seconds,
            }
            for each in lines
        ],
    }


def read_record(document: Mapping[str, Any]) -> Competency:
    """What the checks of a document come to; one that is no such document raises."""
    return competency(
        [
            Trained(
                check=each["check"],
                on=datetime.fromisoformat(each["ended_at"]),
                number=each["set"],
                error=None if each["wrong"] is None else Error(each["wrong"]),
                caught=each["caught"],
                seconds=each["seconds"],
            )
            for each in document["checks"]
        ]
    )
