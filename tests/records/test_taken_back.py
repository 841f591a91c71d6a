"""What was taken back of a syringe that was replaced, as the record and the account have it."""

from app.records.kept import SECOND
from app.records.steps import TAKEN_BACK
from app.records.taken_back import IN_SYRINGE, is_nothing, standing
from tests.factories.findings import DEVICE_WRONG
from tests.records.test_document import compared, document
from tests.records.test_replaced import whole_plan
from tests.story.events import NADIA, RUTH, Story


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
