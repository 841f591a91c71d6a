"""How independent the two readings were, from what the server saw; reported in words, never a gate."""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from app.base import Method
from app.records.kept import FIRST, LETTER_OF, SECOND
from app.records.state import CheckState, HandIn, Round

QUICK = timedelta(minutes=1)
# What a practised nurse needs to read all sources of a set-up (the keystroke bench); whoever knows both codes
# of six digits could unlock for both within it.
ONE_READING = timedelta(minutes=3)


class Grade(StrEnum):
    """The grades, best first, as a record keeps them; a person is shown words (`words/independence.py`)."""

    TWO_DEVICES = "two devices, overlapping in time"
    ONE_AFTER_THE_OTHER = "two devices, one after the other"
    ONE_DEVICE = "one device, signed in anew"
    ONE_DEVICE_UNLOCKED = "one device, unlocked anew by six digits"
    QUICK_SECOND = "second reading in under a minute, after the first"
    TOGETHER = "counted together: not blind"
    VOIDED = "voided: not blind"

    @property
    def code(self) -> str:
        """As rows and exports name it."""
        return self.name.lower().replace("_", "-")


@dataclass(frozen=True, kw_only=True)
class Independence:
    """The grade of one round and the facts behind it.

    `unlocked` are the letters of those whose session six digits had opened, where id and secret are harder to
    know; `unlocked_together`: both, within the time that one reading takes.
    """

    round: int
    grade: Grade
    unlocked: tuple[str, ...]
    unlocked_together: bool
    earlier_look: bool


def of_round(state: CheckState, each: Round, earlier_looks: frozenset[str]) -> Independence:
    """Grade one round that both handed in, or that was voided.

    `earlier_looks` are the people who saw values of the infusion since its last check.
    """
    looked = bool(earlier_looks & set(state.people.values()))
    by_pin = [one for _, one in sorted(each.handed_in.items()) if one.method == Method.PIN]
    return Independence(
        round=each.number,
        grade=_grade(state, each),
        unlocked=tuple(LETTER_OF[one.slot] for one in by_pin),
        unlocked_together=_is_together(by_pin),
        earlier_look=looked,
    )


def _is_together(by_pin: list[HandIn]) -> bool:
    moments = sorted(one.signed_in_at for one in by_pin)
    return len(moments) == len(LETTER_OF) and moments[-1] - moments[0] <= ONE_READING


def _grade(state: CheckState, each: Round) -> Grade:
    if each.voided:
        return Grade.VOIDED
    if each.recount:
        return Grade.TOGETHER
    first, second = sorted((each.handed_in[FIRST], each.handed_in[SECOND]), key=lambda hand_in: hand_in.at)
    # Nobody can begin before the round is open, before joining or before signing in.
    may_begin = max(each.opened_at, state.joined_at[second.slot], second.signed_in_at)
    if first.device != second.device and may_begin <= first.at:
        return Grade.TWO_DEVICES
    if second.at - max(may_begin, first.at) < QUICK:
        return Grade.QUICK_SECOND
    if first.device != second.device:
        return Grade.ONE_AFTER_THE_OTHER
    return Grade.ONE_DEVICE_UNLOCKED if second.method == Method.PIN else Grade.ONE_DEVICE
