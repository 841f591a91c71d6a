"""Whose turn it is to read."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from app.base import Actor, Method
from app.records.kept import FIRST, SECOND
from app.records.kinds import HANDOFF
from app.records.turn import Turn, goes_on, scope_of, turn
from tests.factories.findings import DIFFER
from tests.story.events import BEGAN, NADIA, TOMAS, Story

TABLET, OTHER_TABLET = "tablet", "other tablet"


def actor(person: str, *, device: str = TABLET, signed_in_at: datetime = BEGAN) -> Actor:
    return Actor(
        person=person,
        session=f"session of {person}",
        device=device,
        signed_in_at=signed_in_at,
        unit="ward-4-east",
        method=Method.SECRET,
    )


def joined() -> Story:
    return Story().opened().joined()


def first_handed_in() -> Story:
    return joined().handed_in(1, device=TABLET)


# The tablet was in the first nurse's hands until then.
HANDED_IN_AT = first_handed_in().now
A_SECOND = timedelta(seconds=1)

TABLE: dict[str, tuple[Story, Actor, Turn]] = {
    "the opener, before the second has joined": (Story().opened(), actor(NADIA), Turn.READ),
    "the first": (joined(), actor(NADIA), Turn.READ),
    "the second, at the same time": (joined(), actor(TOMAS, device=OTHER_TABLET), Turn.READ),
    "a third person": (joined(), actor("imogen"), Turn.NOT_YOURS),
    "who has handed in": (first_handed_in(), actor(NADIA), Turn.HANDED_IN),
    "who has handed in, when both have": (joined().both_handed_in(), actor(NADIA), Turn.HANDED_IN),
    "on another device, signed in long ago": (
        first_handed_in(),
        actor(TOMAS, device=OTHER_TABLET),
        Turn.READ,
    ),
    "on the same device, signed in before": (first_handed_in(), actor(TOMAS), Turn.SIGN_IN_ANEW),
    "on the same device, signed in at that instant": (
        first_handed_in(),
        actor(TOMAS, signed_in_at=HANDED_IN_AT),
        Turn.SIGN_IN_ANEW,
    ),
    "on the same device, signed in afterwards": (
        first_handed_in(),
        actor(TOMAS, signed_in_at=HANDED_IN_AT + A_SECOND),
        Turn.READ,
    ),
    "in the same session on another device": (
        first_handed_in(),
        replace(actor(TOMAS, device=OTHER_TABLET), session=f"session of {NADIA}"),
        Turn.SIGN_IN_ANEW,
    ),
    "after the comparison": (Story().found(DIFFER), actor(NADIA), Turn.NOT_NOW),
    "in the next reading": (Story().found(DIFFER).next_reading(), actor(NADIA), Turn.READ),
    "in the next reading, the other having handed in on this device": (
        Story().found(DIFFER).next_reading().handed_in(2, device=TABLET),
        actor(NADIA),
        Turn.SIGN_IN_ANEW,
    ),
    "in the safety steps": (Story().found(), actor(NADIA), Turn.NOT_NOW),
    "when it was abandoned": (joined().abandoned(), actor(NADIA), Turn.NOT_NOW),
    "after someone saw danger": (first_handed_in().voided(), actor(NADIA), Turn.READ),
}


@pytest.mark.parametrize("who", TABLE)
def test_whose_turn_it_is(who: str) -> None:
    told, by, wanted = TABLE[who]

    assert turn(told.state(), by) is wanted


def test_a_check_that_nobody_opened_cannot_be_read() -> None:
    from app.records import events

    told = Story().tell(events.Joined(slot=1), by=NADIA)

    assert turn(told.state(), actor(NADIA)) is Turn.NOT_NOW


GOES_ON: dict[str, tuple[Story, int, str, bool]] = {
    "a page of the round that is read": (joined(), 1, "label", True),
    "danger was seen in another source since": (joined().voided("label"), 1, "device", True),
    "danger was seen in this source since": (joined().voided("label"), 1, "label", False),
    "danger was seen in any source": (joined().voided(), 1, "device", False),
    "danger was seen in others twice": (joined().voided("label").voided("order"), 1, "device", True),
    "danger was seen in others, then in this one": (
        joined().voided("label").voided("device"),
        1,
        "device",
        False,
    ),
    "a page of the round after the danger": (joined().voided("label"), 2, "label", True),
    "danger in another source after handing in": (first_handed_in().voided("label"), 1, "device", False),
    "the round was compared since": (Story().found(DIFFER).next_reading(), 1, "device", False),
    "a round that never was": (joined(), 2, "device", False),
}


@pytest.mark.parametrize("case", GOES_ON)
def test_whether_a_page_of_an_earlier_round_goes_on(case: str) -> None:
    told, number, source, wanted = GOES_ON[case]

    assert goes_on(told.state(), FIRST, number, source) is wanted


def test_each_reads_their_part_of_a_round_and_what_is_read_again_both_read() -> None:
    story = Story(kind=HANDOFF).opened().joined()
    outgoing, incoming = (scope_of(story.state(), slot) for slot in (FIRST, SECOND))
    assert dict(outgoing).keys() < dict(incoming).keys()

    again = story.both_handed_in().compared(DIFFER).next_reading("totals").state()
    assert again.current is not None
    assert scope_of(again, FIRST) == scope_of(again, SECOND) == again.current.scope
