"""What an infusion knows, from the case of the check that put settings in force."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from app.comparison import CaseError, read_case
from app.records.case import build_case, entry
from app.records.kinds import SET_UP, Given
from app.records.known import NOTHING_KNOWN, Known, known_by, known_in
from app.records.reading import WHOLE, Answers
from tests.factories.answers import answers, changed

AT = datetime(2031, 5, 2, 12, 10, 7, tzinfo=UTC)


def case_of(first: Answers, second: Answers, known: Known = NOTHING_KNOWN) -> dict[str, Any]:
    return build_case(
        entries=(entry("A", first, AT, WHOLE), entry("B", second, AT, WHOLE)),
        policy={},
        library={},
        known=known,
        reads=WHOLE,
    )


def test_it_is_what_both_read() -> None:
    read = entry("A", answers(), AT, WHOLE)

    known = known_by(case_of(answers(), answers()))

    assert known == Known(
        patient=read["patient"],
        previous=read["device"],
        order_of_record={key: value for key, value in read["order"].items() if key != "patient"},
        syringe=read["label"],
    )
    assert known.patient.keys() == {"identifier", "birth_date"}
    assert known.previous["demand_dose"] == known.order_of_record["demand_dose"]
    assert known.syringe["lot"] == read["label"]["lot"]


def test_what_one_of_them_did_not_give_is_not_known() -> None:
    half = changed(answers(), device={"limit_window": None, "pack": None}, monitor={"capnography": None})
    known = known_by(case_of(answers(), half))

    assert known.previous["limit"].keys() == {"amount"}
    assert "capnography" not in known.previous["monitor"]
    assert known_by(case_of(half, answers())) == known


def test_the_lot_that_one_of_them_read_is_known() -> None:
    without = changed(answers(), label={"lot": None})

    for case in (case_of(answers(), without), case_of(without, answers())):
        assert known_by(case).syringe == known_by(case_of(answers(), answers())).syringe


def test_none_is_an_answer_and_is_known() -> None:
    none = changed(answers(), order={"loading_dose": "none"}, device={"loading_dose": "none"})
    known = known_by(case_of(none, none))

    assert known.previous["loading_dose"] is None
    assert known.order_of_record["loading_dose"] is None


def test_one_value_typed_in_two_ways_is_known_as_the_first_nurse_typed_it() -> None:
    other = changed(answers(), device={"demand_dose": "200 mcg"})

    assert known_by(case_of(answers(), other)).previous["demand_dose"] != "200 mcg"


def test_a_case_says_what_was_known_and_the_chart_is_no_part_of_it() -> None:
    known = known_by(case_of(answers(), answers()))
    case = case_of(answers(), answers(), known)

    assert list(case) == [
        "format",
        "policy",
        "library",
        "patient",
        "order_of_record",
        "previous",
        "reads",
        "entries",
    ]
    assert case["patient"] == known.patient
    read = read_case(case)
    assert not isinstance(read, CaseError)
    assert known_in(case, {}) == Known(
        patient=known.patient, previous=known.previous, order_of_record=known.order_of_record
    )


def test_of_a_first_check_nothing_is_known() -> None:
    case = case_of(answers(), answers())

    assert known_in(case, {"running": []}) == NOTHING_KNOWN
    assert not {"order_of_record", "previous"} & case.keys()


def test_each_kind_of_check_is_given_its_own_part() -> None:
    known = known_by(case_of(answers(), answers()))

    assert known.given_to(SET_UP) == Known(patient=known.patient, previous=known.previous)
    everything = known.given_to(replace(SET_UP, given=frozenset(Given)))
    assert everything == known
    assert known.given_to(replace(SET_UP, given=frozenset())) == NOTHING_KNOWN


def test_what_ran_is_known_as_the_same_patients_or_as_anothers() -> None:
    case = case_of(answers(), answers())
    place = {"unit": "ward", "unit_name": "Ward", "bed": "7", "here": False}
    told = {"running": [{**place, "same": True}, {**place, "bed": "8", "same": False}]}
    read = entry("A", answers(), AT, WHOLE)["patient"]["identifier"]

    assert [(each.bed, each.patient) for each in known_in(case, told).running] == [("7", read), ("8", "")]


def test_where_no_order_is_read_the_one_of_record_stays() -> None:
    order = known_by(case_of(answers(), answers())).order_of_record
    case = case_of(answers(), answers(), Known(order_of_record=order))
    without = [{name: each for name, each in read.items() if name != "order"} for read in case["entries"]]

    assert known_by({**case, "entries": without}).order_of_record == order
    assert known_by({"entries": without}).order_of_record == {}


def test_what_nobody_reads_is_not_known_and_what_one_alone_reads_is() -> None:
    case = case_of(answers(), answers())
    first, second = case["entries"]
    neither = [{name: each for name, each in read.items() if name != "label"} for read in (first, second)]
    assert known_by({**case, "entries": neither}).syringe == {}
    assert known_by({**case, "entries": [neither[0], second]}).syringe == second["label"]
