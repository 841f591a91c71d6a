"""Who had drug in hand, by what the log says of each act."""

import pytest

from app.records.account_events import AccountClosed
from app.records.emergency_events import EvidenceKept, EvidenceReceived, SealDiffered
from app.records.events import DeviceStopped, Event, Started, StartedWithoutCheck
from app.records.handled import Handled, handled
from app.records.issue_events import IssueSettled
from app.records.kinds import SETTINGS_CHANGE, SYRINGE_CHANGE
from app.records.taken_back import BROKEN, IN_SYRINGE, RETURNED, SPILT, WASTED
from app.records.ward_events import DrugTakenBack
from app.words.handled import PARTS, WHAT
from tests.records.test_account import Course as Infusion
from tests.records.test_issued import ISSUED

CHECK, WRITER = "a", "nadia"


def taken(
    way: str, held_in: str = IN_SYRINGE, *, witness: str = "petra", received: bool = False, why: str = ""
) -> DrugTakenBack:
    return DrugTakenBack(
        slot=1,
        round=0,
        way=way,
        syringe="1",
        held_in=held_in,
        volume="2 mL",
        exact="2 mL",
        lot="LOT-7",
        stated_at="",
        witness=witness,
        received=received,
        first="2 mL",
        not_witnessed=why,
    )


def told(event: Event) -> tuple[Handled, ...]:
    course = Infusion()
    course.tell(event, CHECK)
    return tuple(handled(course.entries, {CHECK: ("nadia", "tomas")}))


def shown(event: Event) -> tuple[str, list[tuple[str, str]]]:
    (one,) = told(event)
    return WHAT[one.what], [(PARTS[each.part], each.person or each.name) for each in one.hands]


@pytest.mark.parametrize(
    ("event", "what", "hands"),
    [
        (
            ISSUED,
            "Issued",
            [
                ("handed over by", "Ruth Calloway"),
                ("taken by", "Nadia Ferrow"),
                ("written down by", WRITER),
            ],
        ),
        (
            Started(check_kind=SYRINGE_CHANGE.name),
            "Loaded and started",
            [("by", "nadia"), ("by", "tomas")],
        ),
        (StartedWithoutCheck(reason="an arrest", started_at=""), "Started without a check", [("by", WRITER)]),
        (taken(WASTED), "Wasted", [("by", WRITER), ("witnessed by", "petra")]),
        (
            taken(RETURNED, received=True),
            "Returned to the pharmacy",
            [("by", WRITER), ("received by", "petra")],
        ),
        (taken(WASTED, SPILT, witness="", why=DrugTakenBack.NOBODY), "Spilt or lost", [("by", WRITER)]),
        (
            taken(WASTED, BROKEN, why=DrugTakenBack.LATE),
            "Broken",
            [("by", WRITER), ("seen, but not as its witness, by", "petra")],
        ),
        (
            IssueSettled(issue="1", how=IssueSettled.RETURNED, receiver="petra"),
            "Returned to the pharmacy",
            [("by", WRITER), ("received by", "petra")],
        ),
        (
            IssueSettled(issue="1", how=IssueSettled.NOT_RECEIVED),
            "Not here any more, and nobody signed for it",
            [("by", WRITER)],
        ),
        (
            EvidenceKept(harm="1", seal="S-1", holder="Ruth Calloway"),
            "Kept under seal",
            [("by", WRITER), ("held by", "Ruth Calloway")],
        ),
        (EvidenceKept(harm="1", seal="S-1"), "Kept under seal", [("by", WRITER)]),
        (
            EvidenceReceived(harm="1", seal="S-1"),
            "Held under seal, as the holder confirmed",
            [("held by", WRITER)],
        ),
        (SealDiffered(harm="1", seal="S-7"), "Another number was read on the seal", [("by", WRITER)]),
        (AccountClosed(left_open="1", reason="found"), "Account closed", [("by", WRITER)]),
    ],
)
def test_each_act_tells_who_had_which_part(event: Event, what: str, hands: list[tuple[str, str]]) -> None:
    assert shown(event) == (what, hands)


@pytest.mark.parametrize(
    "event",
    [
        Started(check_kind=SETTINGS_CHANGE.name),
        IssueSettled(issue="1", how=IssueSettled.PUT_ON, round=1),
        EvidenceKept(harm="1", place="the cupboard"),
        DeviceStopped(stopped_at="", why="", totals=""),
    ],
    ids=lambda each: each.kind,
)
def test_what_moves_no_syringe_tells_of_no_hand(event: Event) -> None:
    assert told(event) == ()


def test_what_was_written_with_it_stands_as_it_was_written() -> None:
    (issued,), (wasted,) = told(ISSUED), told(taken(WASTED))

    assert (issued.number, issued.volume) == ("LOT-7", "30 mL")
    assert (wasted.number, wasted.volume) == ("LOT-7", "2 mL")
