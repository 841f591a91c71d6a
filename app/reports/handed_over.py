"""How an infusion stood when it was handed over, on the record of that."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.records.as_it_stands import AWAY, HELD, KEPT, NOT_FOUND
from app.records.document import AS_IT_STANDS
from app.reports.times import Clock, day_in_words
from app.words.as_it_stands import LEAVE_IT, NOT_DECIDED, STATES, left_words, told_words, until_changed


@dataclass(frozen=True, kw_only=True)
class LeftShown:
    """One thing that stood: what, since when and by whom, what follows, and what was told of it."""

    words: str
    since: str
    by: str
    then: str
    told: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class HandedOver:
    """Whether it ran, who answered for it and who does now, and what stood."""

    says: str
    answers: str
    left: tuple[LeftShown, ...]


def handed_over_shown(document: Mapping[str, Any], clock: Clock) -> HandedOver | None:
    """What the record says of it; nothing where nothing is handed over."""
    stands = document.get(AS_IT_STANDS)
    if stands is None:
        return None
    return HandedOver(
        says=f"{STATES[stands['state']]}, since {clock.full(stands['since'])}",
        answers=_answers(stands),
        left=tuple(_left(each, clock) for each in stands["left"]),
    )


def _answers(stands: Mapping[str, Any]) -> str:
    what = "for the device, its lock and key, and whatever is kept"
    if stands["answered"] == stands["answers"]:
        return f"{stands['answers']['by']} answers {what}."
    return f"{stands['answered']['by']} answered {what}; with both signatures {stands['answers']['by']} does."


def _left(each: Mapping[str, Any], clock: Clock) -> LeftShown:
    return LeftShown(
        words=left_words(each["what"], each["which"]),
        since=clock.full(each["since"]),
        by=each["by"],
        then=" ".join(_then(each, clock)),
        told=told_words(each, day_in_words),
    )


def _then(each: Mapping[str, Any], clock: Clock) -> Iterator[str]:
    if each["what"] == HELD:
        yield f"Last dose {clock.full(each['last_dose_at'])}."
        decided = each["decided"]
        yield f"A prescriber decided {clock.full(decided['at'])} that it goes on." if decided else NOT_DECIDED
    elif each["what"] == AWAY and each["back_at"]:
        yield f"Back {clock.full(each['back_at'])}."
    elif each["what"] == KEPT:
        yield LEAVE_IT
    elif each["what"] == NOT_FOUND:
        yield until_changed(counted=each["counted_at"] is not None)
