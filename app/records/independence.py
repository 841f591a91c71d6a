"""How independent the two readings were, from what the server saw; reported in words, never a gate."""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from app.records.kept import FIRST, SECOND
from app.records.state import CheckState, Round

QUICK = timedelta(minutes=1)


class Grade(StrEnum):
    """The grades, best first, in the words in which they are shown."""

    TWO_DEVICES = "two devices, overlapping in time"
    ONE_AFTER_THE_OTHER = "two devices, one after the other"
    ONE_DEVICE = "one device, signed in anew"
    QUICK_SECOND = "second reading in under a minute, after the first"
    VOIDED = "voided: not blind"


@dataclass(frozen=True, kw_only=True)
class Independence:
    """The grade of one round and the facts behind it."""

    round: int
    grade: Grade
    earlier_look: bool


def of_round(state: CheckState, each: Round, earlier_looks: frozenset[str]) -> Independence:
    """Grade one round that both handed in, or that was voided.

    `earlier_looks` are the people who saw values of the infusion since its last check.
    """
    looked = bool(earlier_looks & set(state.people.values()))
    return Independence(round=each.number, grade=_grade(state, each), earlier_look=looked)


def _grade(state: CheckState, each: Round) -> Grade:
    if each.voided:
        return Grade.VOIDED
    first, second = sorted((each.handed_in[FIRST], each.handed_in[SECOND]), key=lambda hand_in: hand_in.at)
    # Nobody can begin before the round is open, before joining or before signing in.
    may_begin = max(each.opened_at, state.joined_at[second.slot], second.signed_in_at)
    if first.device != second.device and may_begin <= first.at:
        return Grade.TWO_DEVICES
    if second.at - max(may_begin, first.at) < QUICK:
        return Grade.QUICK_SECOND
    return Grade.ONE_DEVICE if first.device == second.device else Grade.ONE_AFTER_THE_OTHER
