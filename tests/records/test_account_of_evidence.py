"""The account of a syringe that is kept as evidence: off the device, and in a place of its own."""

from dataclasses import replace
from typing import Any

import pytest

from app.judging.in_hand import off_the_device
from app.records import events
from app.records.emergency_events import EvidenceKept, EvidenceReleased
from tests.factories.answers import answers, changed
from tests.judging.test_account import document
from tests.records.test_account import OTHER_LOT, Course, last_two
from tests.records.test_account_end import gone


def sealed(left: str = "20 mL", **said: str) -> EvidenceKept:
    told: dict[str, Any] = {"harm": "1", "seal": "7701", "holder": "Ruth", "left": left, **said}
    return EvidenceKept(**told)


def test_what_is_kept_as_evidence_is_off_the_device_and_in_a_place_of_its_own() -> None:
    course = Course().starts("1").tell(events.DeviceStopped(stopped_at="", why="", totals=""))
    course.tell(sealed(holder=""))
    kept = {"kind": "kept", "syringe": "1", "volume": "20 mL", "seal": "7701"}
    assert last_two(course) == [{"kind": "removed", "left": "20 mL"}, {**kept, "received": False}]
    assert course.account().kept == {"1"}
    document(course.account().written())


def test_of_each_thing_that_is_written_of_it_the_last_counts_at_the_time_of_the_first() -> None:
    """One person alone wrote it, another put it right later; totals that do not show are an answer."""
    course = Course().starts("1").tell(sealed("2 mL", seal="", total_amount="8 mg", presses="9"))
    first = course.account().entries[-1]
    course.tell(sealed("20 mL", total_amount="none", total_volume="7.5 mL"))
    course.tell(sealed("", seal="", holder="", total_volume="7.6 mL"))
    removed, kept = course.account().entries[-2:]
    assert removed.data == {
        "kind": "removed",
        "totals": {"volume": "7.6 mL", "presses": 9},
        "left": "20 mL",
    }
    assert (kept.data["volume"], kept.data["seal"], kept.data["received"]) == ("20 mL", "7701", True)
    assert {(each.at, each.position) for each in (removed, kept)} == {(first.at, first.position)}


@pytest.mark.parametrize(
    ("event", "left"),
    [
        (sealed(""), {}),
        (sealed("none", presses="9", doses="8"), {}),
        (sealed("0 mL"), {"left": "0 mL"}),
        (sealed(seal=""), {"left": "20 mL"}),
    ],
)
def test_without_a_volume_or_a_seal_it_is_off_and_no_more_is_said(
    event: EvidenceKept, left: dict[str, str]
) -> None:
    """Counts alone are no totals."""
    course = Course().starts("1").tell(event)
    assert dict(course.account().entries[-1].data) == {"kind": "removed", **left}
    assert Course().tell(event).account().entries == ()


def test_what_is_written_of_it_later_is_not_of_the_syringe_that_is_on_by_then() -> None:
    """It is none of an emergency at another bed either."""
    course = Course().starts("1").tell(sealed()).starts("2", changed(answers(), **OTHER_LOT))
    before = course.account().entries
    course.tell(sealed("19 mL", total_amount="1.4 mg"))
    after = course.account()
    assert (len(after.entries), after.on) == (len(before), "2")
    course = Course().starts("1").tell(events.StopMisplaced(stop="9")).tell(replace(sealed(), harm="9"))
    assert course.account().on == "1"


def test_what_was_given_free_is_in_hand_until_it_goes() -> None:
    """After the investigator is done it is wasted, or given back, or loaded again as any other."""
    course = Course().starts("1").tell(sealed()).tell(EvidenceReleased(harm="2"))
    assert course.account().kept == {"1"}
    course.tell(EvidenceReleased(harm="1"))
    account = course.account()
    assert (account.kept, account.on) == (frozenset(), "")
    assert account.entries[-1].data["kind"] == "removed"
    assert [each["name"] for each in off_the_device(account)] == ["1"]
    course.tell(gone())
    assert course.kinds()[-2:] == ["removed", "wasted 1"]
    assert course.account().gone == {"1"}
