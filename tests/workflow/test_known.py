"""What an infusion knows reaches the engine with its next check: settings in force, order, patient."""

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from app.auditing.invariants import check_invariants
from app.comparison import CaseError, evaluate, read_case
from app.records.course import Course
from app.records.followup import Found
from app.records.kinds import KINDS, REPEAT_SET_UP, Given
from app.records.reading import Answers
from app.records.state import Phase
from tests.factories.answers import answers, changed, of_patient
from tests.story.people import IMOGEN, NADIA, RUTH, TOMAS
from tests.story.ward import Ward

# The order was changed while the device stood still: what it shows is what was in force.
CHANGED = changed(answers(), order={"demand_dose": "0.3 mg"})
STALE = CHANGED
DONE = changed(CHANGED, device={"demand_dose": "0.3 mg"})


def set_up(ward: Ward, read: Answers | None = None, *, bed: str = "7") -> Ward:
    """A check that agrees and whose infusion is started."""
    ward.opens(bed=bed).joins().both_read(read).compares().confirms_all().both_sign()
    return ward.both_look().starts()


def next_check(ward: Ward, read: Answers, second: Answers | None = None, *, bed: str = "7") -> Ward:
    """The device was stopped, and the next check at the bed is compared."""
    return ward.stops().opens(bed=bed).joins().both_read(read, second).compares()


def case_at_hand(ward: Ward) -> dict[str, Any]:
    current = ward.state().current
    assert current is not None
    kept = ward.loaded().last_comparison
    assert kept is not None
    assert kept.round == current.number
    case: dict[str, Any] = kept.opened["case"]
    return case


def of_dose(ward: Ward, code: str) -> Found:
    return next(each for each in ward.state().findings if (each.code, each.field) == (code, "demand_dose"))


def test_a_first_check_knows_nothing(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read().compares()
    case = case_at_hand(one_ward)

    assert not {"patient", "previous", "order_of_record"} & case.keys()


def test_by_the_seeded_rules_nothing_goes_unjudged(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read().compares()
    case = read_case(case_at_hand(one_ward))

    assert not isinstance(case, CaseError)
    assert evaluate(case).not_judged == ()


def test_the_next_check_knows_what_the_last_one_put_in_force(one_ward: Ward) -> None:
    first = case_at_hand(set_up(one_ward))
    case = case_at_hand(next_check(one_ward, answers()))

    assert one_ward.state().course == Course.STOPPED
    assert case["previous"] == first["entries"][0]["device"]
    assert "order_of_record" not in case
    assert case["patient"] == first["entries"][0]["patient"]
    assert one_ward.codes() == set_up(one_ward, bed="8").codes()


def test_a_device_left_as_it_was_is_a_stale_value(one_ward: Ward) -> None:
    next_check(set_up(one_ward), STALE)

    assert of_dose(one_ward, "device-differs").slip == "stale-value"


def test_without_an_earlier_check_the_same_reading_is_not_called_stale(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(STALE).compares()

    assert of_dose(one_ward, "device-differs").slip != "stale-value"


def test_a_set_up_is_not_held_to_the_order_of_record(one_ward: Ward) -> None:
    """The order was changed while the infusion stood still, and the device was set to it."""
    next_check(set_up(one_ward), DONE)

    assert one_ward.phase is Phase.STEPS
    one_ward.confirms_all().both_sign().both_look().starts()
    assert case_at_hand(next_check(one_ward, DONE))["previous"]["demand_dose"] == "0.3 mg"


@pytest.fixture
def held_to_record(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kind of check that is given everything, as one of an infusion that runs is."""
    monkeypatch.setitem(KINDS, REPEAT_SET_UP.name, replace(REPEAT_SET_UP, given=frozenset(Given)))


@pytest.mark.usefixtures("held_to_record")
def test_a_changed_order_is_found_where_the_kind_is_held_to_the_record(ward: Ward) -> None:
    next_check(set_up(ward), DONE)

    assert ward.phase is Phase.DISPUTED
    found = of_dose(ward, "order-differs-from-record")
    assert found.severity == "stop"
    assert (found.readings["record"], found.readings["A.order"]) == ("0.2 mg", "0.3 mg")


def test_another_patient_than_the_infusions_is_found_and_not_read_again(ward: Ward) -> None:
    named = {"identifier": "DM-51111"}
    other = changed(answers(), wristband=named, order=named, label=named)
    next_check(set_up(ward), other)

    found = ward.found("patient-differs")
    assert (found.readings["A.wristband"], found.readings["case"]) == ("DM-51111", "DM-40417")
    assert (ward.phase, ward.state().must_read_again) == (Phase.DISPUTED, False)
    # The way out: that infusion has ended, and another begins.
    ward.abandons().stops(RUTH, why="end-of-therapy").opens(bed="7").joins().both_read(other).compares()
    assert (ward.state().course, ward.phase) == (Course.NEW, Phase.STEPS)


def test_two_wristbands_read_apart_are_read_again(one_ward: Ward) -> None:
    other = changed(answers(), wristband={"identifier": "DM-51111"})
    next_check(set_up(one_ward), answers(), other)

    assert one_ward.found("readings-differ").readings["case"] == "DM-40417"
    assert one_ward.state().must_read_again


def test_a_set_up_that_was_not_started_puts_nothing_in_force(one_ward: Ward) -> None:
    one_ward.opens(bed="7").joins().both_read(DONE).compares().abandons()
    one_ward.opens(bed="7").joins().both_read().compares()

    assert one_ward.state().course == Course.GOES_ON
    assert not {"previous", "order_of_record"} & case_at_hand(one_ward).keys()


def test_one_that_came_to_nothing_in_between_changes_nothing(one_ward: Ward) -> None:
    set_up(one_ward)
    next_check(one_ward, DONE).abandons().opens(bed="7").joins().both_read(STALE).compares()

    assert one_ward.state().course == Course.STOPPED
    assert case_at_hand(one_ward)["previous"]["demand_dose"] == "0.2 mg"


def test_the_check_that_an_unchecked_infusion_gets_is_its_first(one_ward: Ward) -> None:
    one_ward.starts_without_check(bed="7").stops_at("7").opens(bed="7").joins().both_read().compares()

    assert one_ward.state().course == Course.UNCHECKED
    assert not {"previous", "order_of_record"} & case_at_hand(one_ward).keys()
    one_ward.confirms_all().both_sign().both_look().starts()
    assert case_at_hand(next_check(one_ward, answers()))["previous"]["demand_dose"] == "0.2 mg"


@pytest.mark.parametrize("how", ["runs on", "ended", "too long ago", "another bed"])
def test_another_infusion_knows_nothing_of_it(one_ward: Ward, how: str) -> None:
    set_up(one_ward)
    if how == "ended":
        one_ward.stops(why="end-of-therapy")
    if how == "too long ago":
        one_ward.stops().signs_in(NADIA)
        one_ward.wait(timedelta(hours=13))
    other = of_patient("DM-51111", DONE)
    one_ward.opens(bed="8" if how == "another bed" else "7").joins(TOMAS).both_read(other).compares()

    assert one_ward.codes() == (["bed-still-runs"] if how == "runs on" else [])
    assert not {"previous", "order_of_record"} & case_at_hand(one_ward).keys()


def test_a_stop_written_down_at_another_check_of_the_infusion_stands_on_both(one_ward: Ward) -> None:
    set_up(one_ward)
    first = one_ward.check
    one_ward.stops().opens(IMOGEN, bed="7").stops(RUTH)

    assert [len(one_ward.state(check).stop_notes) for check in (first, one_ward.check)] == [2, 1]


def test_each_comparison_is_made_again_with_what_was_known_then(ward: Ward) -> None:
    """And not with what is known today: the same infusion was changed twice since."""
    set_up(ward)
    for read in (DONE, answers()):
        next_check(ward, read).confirms_all().both_sign().both_look().starts()
    next_check(ward, STALE)

    assert check_invariants(ward.site, ward.now) == ()


def test_what_was_known_stands_in_the_record_that_both_sign(one_ward: Ward) -> None:
    next_check(set_up(one_ward), answers()).confirms_all()
    with one_ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(one_ward.check)
    case = json.loads(frozen.document)["rounds"][0]["case"]

    assert case["previous"]["demand_dose"] == "0.2 mg"
