"""Who holds what is kept as evidence: whoever confirmed it by the number that stands on its seal."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from app.records.canonical import canonical
from app.records.custody import NOBODY_HOLDS_IT, NOT_SHOWN, Custody, after
from app.records.emergencies import as_shown
from app.records.emergency_events import EvidenceKept, EvidenceReceived, EvidenceReleased, SealDiffered
from app.records.events import DeviceStopped, Event, StopMisplaced
from app.records.evidence import evidence_in
from app.records.infusion import fold_infusion
from app.records.kept import Entry
from app.records.written import as_data, from_data
from tests.records.test_account import Course
from tests.records.test_emergencies import HARMED, STARTED, STOPPED

BEGAN = datetime.fromisoformat("2031-05-02T12:00:00+00:00")
HARM = "3"
KEPT = EvidenceKept(harm=HARM, seal="LK 7701", holder="Ruth", left="20 mL", to_confirm=True)
RECEIVED = EvidenceReceived(harm=HARM, seal="lk-7701")
DIFFERED = SealDiffered(harm=HARM, seal="7710")
# As 1.0.0 and 1.1.0 wrote it.
BEFORE = {name: text for name, text in as_data(KEPT).items() if name != "to_confirm"}


def entries_of(*told: tuple[str, Event]) -> tuple[Entry, ...]:
    """A start, a stop and what is suspected, which is entry 3; and after these what each person told."""
    course = (("nadia", STARTED), ("nadia", STOPPED), ("nadia", HARMED), *told)
    return tuple(
        Entry(
            position=place,
            at=BEGAN + timedelta(minutes=place),
            by=by,
            session="",
            device="",
            signed_in_at=None,
            canonical=b"",
            check="",
            infusion="infusion-1",
            event=event,
        )
        for place, (by, event) in enumerate(course, 1)
    )


def custody_of(*told: tuple[str, Event]) -> Custody:
    return fold_infusion("infusion-1", entries_of(*told)).emergencies.custody


def is_received(*told: tuple[str, Event]) -> bool:
    (found,) = evidence_in(entries_of(*told)).values()
    return found.received


def test_the_name_that_somebody_wrote_is_no_holder_and_who_reads_its_seal_is() -> None:
    written = custody_of(("ruth", KEPT))
    assert (written.is_received, written.holder, set(written.wrote)) == (False, "", {"ruth"})
    assert written.has_seal(" lk7701 ")
    assert not written.has_seal("7701")
    held = custody_of(("ruth", KEPT), ("petra", RECEIVED))
    assert (held.is_received, held.holder, set(held.read)) == (True, "petra", {"petra"})
    assert not is_received(("ruth", KEPT))
    assert is_received(("ruth", KEPT), ("petra", RECEIVED))


def test_each_who_takes_it_over_confirms_it_and_the_last_one_holds_it() -> None:
    chain = custody_of(("ruth", KEPT), ("petra", RECEIVED), ("quill", RECEIVED))
    assert (chain.holder, set(chain.read)) == ("quill", {"petra", "quill"})


def test_another_number_on_the_seal_counts_for_nothing_and_stands_until_the_right_one_is_read() -> None:
    apart = custody_of(("ruth", KEPT), ("petra", DIFFERED))
    assert (apart.differs, apart.is_received) == (True, False)
    # Of one that was held the holder stays the one who confirmed it.
    handed = custody_of(("ruth", KEPT), ("petra", RECEIVED), ("quill", DIFFERED))
    assert (handed.differs, handed.holder) == (True, "petra")
    again = custody_of(("ruth", KEPT), ("petra", DIFFERED), ("petra", RECEIVED))
    assert (again.differs, again.holder) == (False, "petra")


def test_what_is_sealed_anew_is_confirmed_anew_and_the_same_number_is_no_new_one() -> None:
    later = EvidenceKept(harm=HARM, seal="8802", to_confirm=True)
    same = EvidenceKept(harm=HARM, seal="lk7701", place="safe", to_confirm=True)
    more = EvidenceKept(harm=HARM, place="safe", to_confirm=True)
    assert custody_of(("ruth", KEPT), ("petra", RECEIVED), ("ruth", later)).holder == ""
    assert not is_received(("ruth", KEPT), ("petra", RECEIVED), ("ruth", later))
    for one in (same, more):
        held = custody_of(("ruth", KEPT), ("petra", RECEIVED), ("tomas", one))
        assert (held.holder, set(held.wrote)) == ("petra", {"ruth", "tomas"})


def test_a_number_without_a_letter_or_digit_is_none() -> None:
    none = custody_of(("ruth", replace(KEPT, seal="--")))
    assert (none.seal, none.is_received) == ("", False)


def test_an_entry_of_before_that_names_a_holder_is_received_as_it_was() -> None:
    old = from_data("evidence-kept", dict(BEFORE))
    assert canonical(BEFORE) != canonical(as_data(old))
    assert is_received(("ruth", old))
    assert custody_of(("ruth", old)).is_received
    # As it always was: by whatever was said of the holder, in any entry, and never without one.
    unnamed = from_data("evidence-kept", {**BEFORE, "holder": ""})
    assert not is_received(("ruth", unnamed))
    assert is_received(("ruth", unnamed), ("ruth", from_data("evidence-kept", {**BEFORE, "seal": ""})))
    assert is_received(("ruth", old), ("ruth", EvidenceKept(harm=HARM, place="safe", to_confirm=True)))
    assert custody_of(("ruth", old), ("petra", RECEIVED)).holder == "petra"


@pytest.mark.parametrize("told", [EvidenceReleased(harm=HARM), StopMisplaced(stop=HARM)])
def test_what_is_free_or_was_at_another_bed_has_no_holder(told: Event) -> None:
    state = fold_infusion(
        "infusion-1", entries_of(("ruth", KEPT), ("petra", RECEIVED), ("quill", told))
    ).emergencies
    assert (state.custody, state.evidence) == (NOBODY_HOLDS_IT, None)


def test_what_is_told_of_other_evidence_is_none_of_it() -> None:
    other = [
        ("petra", replace(KEPT, harm="9", seal="1")),
        ("petra", replace(DIFFERED, harm="9")),
        ("petra", replace(RECEIVED, harm="9")),
    ]
    assert custody_of(("ruth", KEPT), *other) == custody_of(("ruth", KEPT))
    assert after(NOBODY_HOLDS_IT, entries_of()[0]) == NOBODY_HOLDS_IT
    found = evidence_in(entries_of(("ruth", KEPT), *other))
    assert [each.received for each in found.values()] == [False, True]


def test_who_has_yet_to_read_the_seal_is_shown_no_number_of_it() -> None:
    told = entries_of(("ruth", KEPT), ("petra", RECEIVED), ("quill", DIFFERED))
    stands = fold_infusion("infusion-1", told).emergencies

    def shown(person: str, *, investigates: bool = False) -> list[Any]:
        found = as_shown(told, stands, person, investigates=investigates)
        return [getattr(each.event, "seal", None) for each in found[3:]]

    every = ["LK 7701", "lk-7701", "7710"]
    assert [shown("ruth"), shown("petra")] == [every, every]
    assert shown("imogen") == [NOT_SHOWN, "", ""]
    # Whoever investigates is shown why, once another number was read.
    assert shown("quill", investigates=True) == every
    stands = fold_infusion("infusion-1", told[:5]).emergencies
    assert shown("quill", investigates=True) == [NOT_SHOWN, "", ""]
    free = fold_infusion("infusion-1", entries_of(("ruth", KEPT), ("quill", EvidenceReleased(harm=HARM))))
    stands = free.emergencies
    assert shown("imogen") == every
    # What has no number has none to hide.
    blank = entries_of(("ruth", replace(KEPT, seal="")))
    stands = fold_infusion("infusion-1", blank).emergencies
    assert as_shown(blank, stands, "imogen", investigates=False) == blank


def test_in_the_account_it_is_received_once_its_holder_has_confirmed_it() -> None:
    course = Course().starts("1").tell(DeviceStopped(stopped_at="", why="", totals=""))
    course.tell(replace(KEPT, harm="1"))
    kept = course.account().entries[-1].data
    assert (kept["kind"], kept["received"]) == ("kept", False)
    course.tell(SealDiffered(harm="1", seal="7710"))
    assert course.account().entries[-1].data == kept
    course.tell(EvidenceReceived(harm="1", seal="LK7701"))
    assert course.account().entries[-1].data == {**kept, "received": True}
