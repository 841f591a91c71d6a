"""What stands at an infusion after an emergency, in the words of a list and of its page."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.records.as_it_stands import AWAY, DEAD, HELD, KEPT, NOT_FOUND
from app.records.emergencies import Absence, Emergencies, Hold
from app.records.restarting import Left
from app.words.as_it_stands import LEAVE_IT, NOT_DECIDED, RUNS_UNDECIDED, left_words, until_changed
from app.words.emergencies import comes_first, custody_words


@dataclass(frozen=True, kw_only=True)
class Stand:
    """One thing that stands since a moment; `until` is when somebody stops watching without a break.

    `set_until` is when the line that was capped is no longer gone on with.
    """

    words: str
    since: datetime
    key: str = ""
    until: datetime | None = None
    every_minutes: int = 0
    then: str = ""
    set_until: datetime | None = None


def stands_shown(left: Left) -> tuple[Stand, ...]:
    """What stands, the most urgent first; of one that has ended what is kept, or not found."""
    waiting = () if left.has_ended else tuple(_waiting(left))
    return tuple(sorted((*waiting, *_until_said(left.stands)), key=lambda each: _ORDER.index(each.key)))


def stands_above(left: Left) -> tuple[Stand, ...]:
    """What is told above every list."""
    return tuple(each for each in stands_shown(left) if each.key in TOLD_ABOVE)


# Told above every list, whatever became of the infusion.
TOLD_ABOVE = ("evidence", "key")
_ORDER = ("hold", "evidence", "key", "dead", "off", "back", "away")


def _waiting(left: Left) -> Iterator[Stand]:
    """What ends with the next start."""
    stands, then = left.stands, comes_first(left.wants)
    if stands.hold is not None:
        yield _hold(stands.hold, left, then)
    if stands.dead is not None:
        yield Stand(key="dead", words=left_words(DEAD, ""), since=stands.dead.at, then=then)
    if stands.off is not None and stands.evidence is None:
        yield Stand(key="off", words="Kept as evidence, and free again", since=stands.off.at, then=then)
    if stands.absence is not None:
        yield _absence(stands.absence, left, then)


def _hold(hold: Hold, left: Left, then: str) -> Stand:
    undecided = RUNS_UNDECIDED if left.runs else NOT_DECIDED
    until = hold.watched_until(left.watch.lasts)
    return Stand(
        key="hold",
        words=left_words(HELD, ""),
        since=hold.first.at,
        until=until if left.now < until else None,
        every_minutes=minutes(left.watch.every),
        then=then if hold.decided else undecided,
    )


def _absence(absence: Absence, left: Left, then: str) -> Stand:
    back, until = absence.back, absence.set_until(left.policy.away)
    return Stand(
        key="back" if back else "away",
        words="The patient is back" if back else left_words(AWAY, absence.went.what),
        since=back.at if back else absence.went.at,
        then=then,
        set_until=None if absence.needs_new_set(left.now, left.policy.away) else until,
    )


def _until_said(stands: Emergencies) -> Iterator[Stand]:
    """What ends when somebody says so, whatever became of the infusion."""
    if stands.evidence is not None:
        yield Stand(
            key="evidence",
            words=left_words(KEPT, stands.evidence.what),
            since=stands.evidence.at,
            then=f"{LEAVE_IT} {custody_words(stands.custody)}".strip(),
        )
    if stands.key is not None:
        yield Stand(
            key="key",
            words=left_words(NOT_FOUND, stands.key.missing.what),
            since=stands.key.missing.at,
            then=until_changed(counted=stands.key.counted is not None),
        )


def minutes(span: timedelta) -> int:
    """A span of the policy, which is of whole minutes."""
    return int(span.total_seconds()) // 60
