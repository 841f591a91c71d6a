"""Whose turn it is to read: one function for the pages and for the hand-in."""

from enum import StrEnum

from app.base import Actor
from app.records.reading import Scope, within
from app.records.state import CheckState, Phase


class Turn(StrEnum):
    """What a person may do about the current round."""

    READ = "read"
    HANDED_IN = "handed in"
    SIGN_IN_ANEW = "sign in anew"
    NOT_YOURS = "not yours"
    NOT_NOW = "not now"


def turn(state: CheckState, actor: Actor) -> Turn:
    """Whether this actor may read now.

    On one device the second person must have signed in after the first handed in: an older sign-in there
    could be the first person's own hands, or a page that the first person left open.
    """
    slot = state.slot_of(actor.person)
    if slot is None:
        return Turn.NOT_YOURS
    current = state.current
    if current is None or state.phase not in (Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN):
        return Turn.NOT_NOW
    if slot in current.handed_in:
        return Turn.HANDED_IN
    for other in current.handed_in.values():
        same_device = other.device == actor.device and actor.signed_in_at <= other.at
        if same_device or other.session == actor.session:
            return Turn.SIGN_IN_ANEW
    return Turn.READ


def scope_of(state: CheckState, slot: int) -> Scope:
    """What this one of the two reads in the current round: what is read again, both read."""
    assert state.current is not None  # noqa: S101  # somebody reads in it
    is_again = any(each.compared_at is not None for each in state.rounds)
    return state.current.scope if is_again else within(state.current.scope, state.kind.reads_of(slot))


def goes_on(state: CheckState, slot: int, number: int, source: str) -> bool:
    """Whether what is written in a source on a page of round `number` is still of the current one.

    So it is where danger was seen since in other sources alone, and this person had handed nothing in.
    """
    since = [each for each in state.rounds if each.number >= number]
    return bool(since) and not any(
        slot in each.handed_in or each.puts_aside(source) or not each.voided for each in since[:-1]
    )
