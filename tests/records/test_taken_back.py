"""What was taken back of a syringe that was replaced, as the record and the account have it."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from app.records.ending_events import DrugRead, DrugReadApart
from app.records.kept import FIRST, SECOND
from app.records.state import Phase
from app.records.steps import REPLACED, TAKEN_BACK, WITH_CARRIER
from app.records.taken_back import IN_SYRINGE, find_apart, find_first_read, is_nothing, next_reading, standing
from app.records.ward_events import DrugTakenBack
from tests.factories.findings import DEVICE_WRONG
from tests.records.test_document import compared, document
from tests.records.test_replaced import whole_plan
from tests.story.events import CHECK, NADIA, RUTH, Story, the_plan


def replaced() -> Story:
    story = Story().found(DEVICE_WRONG).primed().read_again(touched=("label",))
    story.plan = whole_plan()
    return story


def test_it_is_written_with_the_keys_of_the_account() -> None:
    (wasted,) = replaced().taken_back().state().taken_back
    (returned,) = replaced().taken_back(way="returned", stated_at="2031-05-02T13:10+01:00").state().taken_back

    assert wasted.entry() == {
        "kind": "wasted",
        "at": wasted.at.isoformat(timespec="seconds"),
        "syringe": "reading 1",
        "volume": "2.3 mL",
        "witnessed": True,
    }
    assert returned.entry() == {
        "kind": "returned",
        "at": "2031-05-02T13:10+01:00",
        "syringe": "reading 1",
        "volume": "2.3 mL",
        "received": False,
    }


def test_of_what_was_written_anew_the_last_counts() -> None:
    story = replaced().taken_back("27 mL", held_in=IN_SYRINGE).taken_back().taken_back("2.4 mL")
    taken = story.state().taken_back

    assert [each.position in standing(taken) for each in taken] == [True, False, True]


def test_what_was_verified_is_what_had_been_written_before() -> None:
    story = replaced().taken_back().confirmed(1, "old-syringe").confirmed(SECOND, "old-syringe")
    step = next(each for each in whole_plan().steps if each.entry == TAKEN_BACK)

    assert story.state().is_confirmed(step, "verified")
    assert not story.taken_back("2.4 mL").state().is_confirmed(step, "done")


def test_the_record_holds_all_of_it_by_name_and_says_what_counts() -> None:
    made = document(replaced().taken_back().taken_back("2.4 mL"), compared(1), compared(2))
    first, last = made["safety_steps"]["taken_back"]

    assert (first["typed"], first["stands"]) == ("2.3 mL", False)
    assert (last["typed"], last["stands"]) == ("2.4 mL", True)
    assert (last["by"], last["person"]) == ("Nadia Ferrow", NADIA)
    assert (last["witness"], last["witness_person"]) == ("Ruth Calloway", RUTH)


def test_a_record_without_a_wrong_syringe_says_nothing_of_it() -> None:
    assert "taken_back" not in document(Story().found(), compared(1))["safety_steps"]


def test_nothing_is_written_as_nothing() -> None:
    assert is_nothing("0 mL")
    assert not is_nothing("0.1 mL")


def with_another() -> Story:
    return Story(plan=the_plan(WITH_CARRIER, REPLACED))


TAKEN_BACK_AGAIN: dict[str, tuple[Callable[[], Story], Phase]] = {
    "before signing": (lambda: with_another().at_stage(Phase.SIGNING).signed(FIRST), Phase.STEPS),
    "ready to start": (lambda: with_another().at_stage(Phase.CLEARED), Phase.CLEARED),
    "lapsed": (lambda: with_another().at_stage(Phase.CLEARED).lapsed(), Phase.LAPSED),
    "started": (lambda: with_another().at_stage(Phase.STARTED), Phase.STARTED),
    "ended": (lambda: with_another().at_stage(Phase.SIGNING).abandoned(), Phase.ABANDONED),
}


@pytest.mark.parametrize("case", TAKEN_BACK_AGAIN)
def test_what_was_taken_back_is_put_right_before_it_is_signed_and_what_was_signed_stays(case: str) -> None:
    begin, phase = TAKEN_BACK_AGAIN[case]
    story = begin()
    before = story.state()
    then = story.taken_back().state()

    assert then.phase is phase
    assert then.frozen_digest == ("" if phase is Phase.STEPS else before.frozen_digest)
    assert [each.volume for each in then.taken_back] == ["2.3 mL"]


def read_first(reading: int = 1) -> DrugRead:
    return DrugRead(
        slot=FIRST,
        round=2,
        reading=reading,
        way="wasted",
        held_in=(IN_SYRINGE,),
        syringe="",
        lot="L1",
        stated_at="",
        sealed="c2VhbGVk",
    )


def test_what_one_read_waits_until_it_is_written_or_the_two_do_not_agree() -> None:
    story = replaced()
    assert find_first_read(story.entries, CHECK.id) is None
    assert next_reading(story.entries, CHECK.id) == 1

    story.tell(read_first(), by=NADIA, device="tablet")
    waits = find_first_read(story.entries, CHECK.id)
    assert waits is not None
    assert (waits.by, waits.device, waits.at, waits.sealed) == (NADIA, "tablet", story.now, "c2VhbGVk")
    assert find_first_read(story.entries, "another check") is None
    assert next_reading(story.entries, CHECK.id) == 1

    story.tell(DrugReadApart(reading=1, witness=RUTH), by=NADIA)
    assert find_first_read(story.entries, CHECK.id) is None
    assert next_reading(story.entries, CHECK.id) == 2
    apart = find_apart(story.entries, CHECK.id)
    assert apart is not None
    assert (apart.event, apart.by) == (read_first(), NADIA)
    assert find_apart(story.entries, "another check") is None

    story.tell(read_first(2), by=NADIA)
    assert find_apart(story.entries, CHECK.id) is None
    assert find_first_read(story.entries, CHECK.id) is not None
    story.taken_back()
    assert find_first_read(story.entries, CHECK.id) is None
    assert next_reading(story.entries, CHECK.id) == 1


def test_what_nobody_else_saw_says_so_in_the_account() -> None:
    story = replaced().taken_back()
    wrote = story.state().taken_back[0]
    assert wrote.entry()["witnessed"] is True
    event = story.entries[-1].event
    assert isinstance(event, DrugTakenBack)
    story.tell(replace(event, not_witnessed=event.NOBODY, witness=""), by=NADIA)
    assert story.state().taken_back[1].entry()["witnessed"] is False
