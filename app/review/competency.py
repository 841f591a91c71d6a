"""What a person's checks on training cards add up to: how many errors were caught, and how fast they read."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from app.review.durations import Spread, spread
from app.review.intervals import Share


@dataclass(frozen=True, kw_only=True)
class Trained:
    """One check on a set of cards, of one of its two.

    `wrong` is what was wrong, blank where nothing was. `caught` is None where nothing was wrong, or where
    reading 1 of both was never compared; `seconds` from the opening, or from joining, to the own hand-in.
    """

    on: datetime
    number: int
    wrong: str
    caught: bool | None
    seconds: int | None


@dataclass(frozen=True, kw_only=True)
class Competency:
    """All of them: the share of what could be caught, None where nothing could, and how the times lie."""

    lines: tuple[Trained, ...]
    caught: Share | None
    took: Spread | None


def competency(lines: Sequence[Trained]) -> Competency:
    """What they add up to."""
    judged = [each.caught for each in lines if each.caught is not None]
    return Competency(
        lines=tuple(lines),
        caught=Share(count=sum(judged), of=len(judged)) if judged else None,
        took=spread(each.seconds for each in lines if each.seconds is not None),
    )
