"""An order from another system, as the order of record of what two read."""

from typing import Any

import pytest

from app.comparison import Verdict
from app.records.kept_orders import OrderOnRecord
from app.records.kinds import KINDS, RE_CHECK, REPEAT_SET_UP, SET_UP, SETTINGS_CHANGE
from app.records.known import Known, known_in
from app.records.order_message import ReadOrder, read_order
from app.records.reading import sources_in
from app.records.sources import NONE, JudgedBy, Source
from tests.factories.answers import Changes, answers, changed
from tests.factories.orders import Json, as_both_read, as_message
from tests.judging.test_judge import found_as, judged

READ = answers(chart={"opioid_tolerant": "yes"})
DIFFERS = "order-differs-from-record"


def on_record(resource: Json, name: str = "A-1001") -> OrderOnRecord:
    found = read_order(as_message(resource), drugs=("HYDROmorphone", "morphine"))
    assert isinstance(found, ReadOrder), found
    return OrderOnRecord(
        id=name,
        order=f"urn:example:orders|{name}",
        sender="Orders of the house",
        received_at="2031-05-02T12:00:00+00:00",
        digest="digest",
        settings=found.settings,
    )


def known_with(*orders: OrderOnRecord, **more: Any) -> Known:  # noqa: ANN401  # fields of what is known
    return Known(orders=orders, **more)


def of_record(known: Known, **read: Changes) -> set[tuple[str, str]]:
    """What is found of the order of record, where both read this."""
    found = judged(changed(READ, **read), known=known).findings
    return {(each.code, each.field) for each in found if each.code in {DIFFERS, "orders-unclear"}}


def test_an_order_that_says_what_both_read_changes_nothing_but_that_it_was_compared() -> None:
    without = judged(READ)
    beside = judged(READ, known=known_with(on_record(as_both_read())))
    assert found_as(beside.findings) == found_as(without.findings)
    assert "order_of_record" not in without.case
    assert beside.case["order_of_record"]["demand_dose"] == "0.2 mg"


def test_an_order_that_both_misread_alike_is_found() -> None:
    (found,) = (
        each
        for each in judged(READ, known=known_with(on_record(as_both_read(dose=0.4)))).findings
        if each.code == DIFFERS
    )
    assert (found.field, found.severity, found.readings["record"]) == ("demand_dose", "stop", "0.4 mg")


def test_what_a_message_does_not_state_takes_no_part() -> None:
    """A loading dose, a carrier and a second limit were read; R4 has no room for them here."""
    more = {"loading_dose": "0.4 mg", "limit_2_amount": "6 mg", "limit_2_window": "24 h"}
    known = known_with(on_record(as_both_read()))
    assert of_record(known, order=more) == set()
    # The one that it does state is held to the one of its window.
    wrong = {"limit_amount": "2 mg", "limit_window": "1 h", "limit_2_amount": "3 mg", "limit_2_window": "4 h"}
    assert of_record(known, order=wrong) >= {(DIFFERS, "limit.2.amount")}
    assert of_record(known, order={"limit_amount": NONE, "limit_window": None}) >= {(DIFFERS, "limit.amount")}


def test_with_two_active_orders_neither_is_compared_and_both_are_named() -> None:
    known = known_with(on_record(as_both_read(dose=0.4)), on_record(as_both_read(), "A-1002"))
    made = judged(READ, known=known)
    (found,) = (each for each in made.findings if each.code == "orders-unclear")
    assert (found.severity, found.group, found.readings) == ("caution", "patient", {})
    assert "A-1001 of Orders of the house and A-1002 of Orders of the house" in found.says
    assert "order_of_record" not in made.case
    assert made.verdict is Verdict.CAUTIONED


@pytest.mark.parametrize(
    ("before", "dosage", "stands"),
    [
        # Not stated: what was read of the order before still stands.
        ({"lockout": "9 min"}, {}, {"lockout": "10 min"}),
        ({"loading_dose": "0.4 mg"}, {}, {"loading_dose": "0.4 mg"}),
        ({"amount": "5 mg", "volume": "25 mL"}, {}, {"amount": None, "volume": None}),
        ({"continuous_rate": "0.1 mg/h"}, {}, {"continuous_rate": None}),
        (
            {"demand_dose": "0.1 mg", "lockout": "9 min"},
            {"doseAndRate": [{"rateQuantity": {"value": 1, "code": "mg/h"}}]},
            {"demand_dose": None, "lockout": None, "continuous_rate": "1 mg/h"},
        ),
    ],
)
def test_it_stands_in_place_of_what_was_read_of_the_order_before(
    before: dict[str, str], dosage: Json, stands: dict[str, str | None]
) -> None:
    resource = as_both_read()
    if dosage:
        dosage["doseAndRate"][0]["rateQuantity"]["system"] = "http://unitsofmeasure.org"
        resource["dosageInstruction"] = [dosage]
    made = judged(READ, kind=RE_CHECK, known=known_with(on_record(resource), order_of_record=before))
    record = made.case["order_of_record"]
    assert {name: record.get(name) for name in stands} == stands


def test_an_order_without_a_strength_leaves_the_one_before() -> None:
    resource = as_both_read()
    resource["contained"][0]["ingredient"][0].pop("strength")
    before = {"amount": "6 mg", "volume": "30 mL"}
    made = judged(READ, kind=RE_CHECK, known=known_with(on_record(resource), order_of_record=before))
    assert made.case["order_of_record"]["amount"] == "6 mg"
    assert "concentration" not in made.case["order_of_record"]


def test_it_is_given_to_the_kinds_in_which_two_read_an_order() -> None:
    known = known_with(on_record(as_both_read()))
    for kind in KINDS.values():
        reads = Source.ORDER in sources_in(kind.reads)
        assert bool(known.given_to(kind).orders) is reads
        assert (JudgedBy.ORDERS in kind.judges) is reads
    assert {each.name for each in KINDS.values() if JudgedBy.ORDERS in each.judges} == {
        each.name for each in (SET_UP, REPEAT_SET_UP, RE_CHECK, SETTINGS_CHANGE)
    }


def test_a_comparison_that_was_kept_comes_to_the_same_again() -> None:
    """Of the order that was compared it keeps which it was; what it orders stands in the case."""
    for orders in ((on_record(as_both_read(dose=0.4)),), (on_record(as_both_read()),) * 2):
        made = judged(READ, known=known_with(*orders))
        again = known_in(made.case, {"orders": [each.as_data() for each in orders]})
        assert judged(READ, known=again) == made
