"""What a round asks for, what is missing, and the latest value of each field."""

import pytest

from app.records.fields import FIELDS, field_of
from app.records.kept import FIRST, SECOND
from app.records.kinds import KINDS, REPEAT_SET_UP, SYRINGE_CHANGE
from app.records.measures import LOCKOUT
from app.records.reading import (
    NAMES,
    WHOLE,
    Answers,
    Scope,
    asked_in,
    asked_of,
    fields_in,
    in_scope,
    latest,
    missing,
    names_read,
    sources_in,
    used,
)
from app.records.sources import CAN_BE_PUT_RIGHT, Source
from tests.factories.answers import answers, changed

EMPTY: Answers = {}
PATIENT_NAME, PRESCRIBER = NAMES


def lacking(source: str, given: dict[str, str], before: dict[str, str] | None = None) -> set[str]:
    scope = ((source, ()),)
    return {name for _, name in missing(scope, {source: given}, {source: before or {}})}


ALWAYS_IN_SETTINGS = {
    "identifier",
    "birth_date",
    "drug",
    "mode",
    "limit_amount",
    "loading_dose",
    "carrier_fluid",
}

# What was answered -> what is asked besides, in an order.
ASKED: dict[str, tuple[dict[str, str], set[str]]] = {
    "nothing yet: all that any mode or strength could need": (
        {},
        {
            "identifier",
            "birth_date",
            "drug",
            "strength",
            "amount",
            "volume",
            "mode",
            "demand_dose",
            "lockout",
            "continuous_rate",
            "limit_amount",
            "limit_window",
            "loading_dose",
            "carrier_fluid",
            "carrier_rate",
        },
    ),
    "demand": (
        {"mode": "demand", "strength": "states-none"},
        (ALWAYS_IN_SETTINGS - {"mode"}) | {"demand_dose", "lockout", "limit_window", "carrier_rate"},
    ),
    "continuous": (
        {"mode": "continuous", "strength": "states-none"},
        (ALWAYS_IN_SETTINGS - {"mode"}) | {"continuous_rate", "limit_window", "carrier_rate"},
    ),
    "demand and continuous": (
        {"mode": "demand-and-continuous", "strength": "states-none"},
        (ALWAYS_IN_SETTINGS - {"mode"})
        | {"demand_dose", "lockout", "continuous_rate", "limit_window", "carrier_rate"},
    ),
    "strength per millilitre": (
        {"mode": "demand", "strength": "per-millilitre"},
        (ALWAYS_IN_SETTINGS - {"mode"})
        | {"concentration", "demand_dose", "lockout", "limit_window", "carrier_rate"},
    ),
    "strength as an amount in a volume": (
        {"mode": "demand", "strength": "amount-in-volume"},
        (ALWAYS_IN_SETTINGS - {"mode"})
        | {"amount", "volume", "demand_dose", "lockout", "limit_window", "carrier_rate"},
    ),
    "no limit": (
        {"mode": "demand", "strength": "states-none", "limit_amount": "none"},
        (ALWAYS_IN_SETTINGS - {"mode", "limit_amount"}) | {"demand_dose", "lockout", "carrier_rate"},
    ),
    "a second limit, and a bolus given by staff": (
        {
            "mode": "demand",
            "strength": "states-none",
            "limit_amount": "2 mg",
            "limit_2_amount": "6 mg",
            "staff_bolus_dose": "0.4 mg",
        },
        (ALWAYS_IN_SETTINGS - {"mode", "limit_amount"})
        | {
            "demand_dose",
            "lockout",
            "limit_window",
            "limit_2_window",
            "carrier_rate",
            "staff_bolus_interval",
            "staff_bolus_most",
            "staff_bolus_window",
        },
    ),
    "no carrier": (
        {"mode": "demand", "strength": "states-none", "carrier_fluid": "none"},
        (ALWAYS_IN_SETTINGS - {"mode", "carrier_fluid"}) | {"demand_dose", "lockout", "limit_window"},
    ),
}


@pytest.mark.parametrize("case", ASKED)
def test_what_is_asked_depends_on_what_was_answered(case: str) -> None:
    given, wanted = ASKED[case]

    assert lacking("order", given) == wanted


def test_a_complete_reading_lacks_nothing() -> None:
    assert missing(WHOLE, answers(), EMPTY) == ()


def test_an_empty_reading_lacks_something_in_every_source() -> None:
    assert {source for source, _ in missing(WHOLE, EMPTY, EMPTY)} == {
        source.value for source in CAN_BE_PUT_RIGHT
    }


def test_the_code_on_the_label_may_be_left_out() -> None:
    assert "code" in {field.name for field in FIELDS[Source.LABEL]}
    assert lacking("label", answers()["label"]) == set()


def test_a_mode_read_earlier_decides_what_is_asked_now() -> None:
    scope = (("device", ("demand_dose", "lockout")),)

    assert missing(scope, EMPTY, {"device": {"mode": "continuous"}}) == ()
    assert missing(scope, EMPTY, {"device": {"mode": "demand"}}) == (
        ("device", "demand_dose"),
        ("device", "lockout"),
    )
    # What is answered now counts before what was answered then.
    both = (("device", ("mode", "demand_dose")),)
    assert missing(both, {"device": {"mode": "continuous"}}, {"device": {"mode": "demand"}}) == ()


@pytest.mark.parametrize(
    ("scope", "source", "names"),
    [
        (WHOLE, Source.WRISTBAND, ["identifier", "birth_date", "patient_name"]),
        ((("device", ("lockout", "mode")),), Source.DEVICE, ["mode", "lockout"]),
        ((("device", ("lockout",)),), Source.ORDER, []),
        ((("monitor", ()),), Source.MONITOR, [field.name for field in FIELDS[Source.MONITOR]]),
    ],
)
def test_a_scope_names_fields_or_whole_sources(scope: Scope, source: Source, names: list[str]) -> None:
    assert [field.name for field in fields_in(scope, source)] == names


def test_sources_are_read_in_the_order_of_the_scope() -> None:
    assert sources_in((("monitor", ()), ("order", ()))) == (Source.MONITOR, Source.ORDER)


# What was read before, what was asked again and answered -> what counts now, of the device.
BEFORE = {"mode": "demand", "demand_dose": "0.2 mg", "lockout": "10 min"}
MERGED: dict[str, tuple[Scope, dict[str, str], dict[str, str]]] = {
    "one field, another value": (
        (("device", ("lockout",)),),
        {"lockout": "6 min"},
        {"mode": "demand", "demand_dose": "0.2 mg", "lockout": "6 min"},
    ),
    "one field, left blank: it is not read, whatever it was": (
        (("device", ("lockout",)),),
        {"lockout": ""},
        {"mode": "demand", "demand_dose": "0.2 mg"},
    ),
    "the whole source: no earlier agreement about it counts": (
        (("device", ()),),
        {"mode": "demand"},
        {"mode": "demand"},
    ),
    "the mode, and with it what depends on it": (
        (("device", ("continuous_rate", "demand_dose", "lockout", "mode")),),
        {"mode": "continuous", "continuous_rate": "0.2 mg/h"},
        {"mode": "continuous", "continuous_rate": "0.2 mg/h"},
    ),
    "another source": ((("label", ()),), {}, BEFORE),
}


@pytest.mark.parametrize("case", MERGED)
def test_the_latest_value_of_each_field(case: str) -> None:
    scope, again, wanted = MERGED[case]

    assert latest([(WHOLE, {"device": BEFORE}), (scope, {"device": again})])["device"] == wanted


def test_a_source_that_was_never_answered_is_there_and_empty() -> None:
    assert latest([(WHOLE, EMPTY)]) == {source.value: {} for source in CAN_BE_PUT_RIGHT}


def test_a_forged_field_does_not_ride_along() -> None:
    scope = (("device", ("lockout",)),)
    forged = {
        "device": {"lockout": "10 min", "demand_dose": "2 mg", "no_such_field": "x"},
        "order": {"drug": "morphine"},
    }

    assert in_scope(scope, forged) == {"device": {"lockout": "10 min"}}
    assert in_scope(scope, {"device": {"lockout": ""}}) == {"device": {}}
    assert in_scope(scope, EMPTY) == {"device": {}}


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        (
            {"strength": "amount-in-volume", "amount": "6 mg", "concentration": "9 mg/mL"},
            {"strength", "amount"},
        ),
        (
            {"strength": "per-millilitre", "amount": "6 mg", "concentration": "1 mg/mL"},
            {"strength", "concentration"},
        ),
        ({"strength": "states-none", "volume": "30 mL", "concentration": "1 mg/mL"}, {"strength"}),
        ({"limit_amount": "none", "limit_window": "4 h"}, {"limit_amount"}),
        ({"limit_amount": "2 mg", "limit_window": "4 h"}, {"limit_amount", "limit_window"}),
        ({"carrier_fluid": "none", "carrier_rate": "10 mL/h"}, {"carrier_fluid"}),
        (
            {"carrier_fluid": "sodium chloride 0.9%", "carrier_rate": "10 mL/h"},
            {"carrier_fluid", "carrier_rate"},
        ),
        ({"drug": "morphine"}, {"drug"}),
    ],
)
def test_an_answer_that_another_makes_idle_is_not_used(given: dict[str, str], wanted: set[str]) -> None:
    assert used(given).keys() == wanted


def test_a_field_is_found_by_its_name() -> None:
    assert field_of(Source.DEVICE, "lockout").measure is LOCKOUT


def test_answers_are_changed_without_touching_the_ones_before() -> None:
    before = answers()
    after = changed(before, device={"lockout": None, "mode": "continuous"})

    assert before == answers()
    assert "lockout" not in after["device"]
    assert after["device"]["mode"] == "continuous"


def names(slot: int, scope: Scope, source: Source, *, is_scanned: bool = False) -> set[str]:
    return {each.name for each in asked_of(slot, scope, source, is_scanned=is_scanned)}


def test_what_one_suffices_for_is_asked_of_the_first_nurse_alone() -> None:
    of_every_kind = {each.name for each in FIELDS[Source.LABEL] if not each.by_kind}
    assert names(FIRST, WHOLE, Source.LABEL) == of_every_kind
    assert names(FIRST, WHOLE, Source.LABEL) - names(SECOND, WHOLE, Source.LABEL) == {"lot", "code"}
    # That both read the patient as tolerant opens what is for tolerant patients alone.
    assert names(SECOND, WHOLE, Source.CHART) == {
        *("order_current", "pharmacist", "allergy", "opioid_tolerant", "able_to_use_button"),
    }
    bare: Answers = {source: {} for source in answers()}
    of_second = {name for source, name in missing(WHOLE, bare, EMPTY, slot=SECOND) if source == "chart"}
    assert of_second == names(SECOND, WHOLE, Source.CHART)


def test_where_labels_are_scanned_both_are_asked_for_what_is_scanned() -> None:
    assert names(SECOND, WHOLE, Source.LABEL, is_scanned=True) == names(FIRST, WHOLE, Source.LABEL)
    assert names(SECOND, WHOLE, Source.CHART, is_scanned=True) == names(SECOND, WHOLE, Source.CHART)


def test_what_is_read_again_by_name_is_read_by_both() -> None:
    scope = (("chart", ("sedatives",)), ("label", ("lot",)))

    assert names(SECOND, scope, Source.CHART) == {"sedatives"}
    assert names(SECOND, scope, Source.LABEL) == {"lot"}
    assert missing(scope, EMPTY, EMPTY, slot=SECOND) == (("chart", "sedatives"), ("label", "lot"))


def test_the_names_that_were_read_stand_under_the_letters_of_who_read_them() -> None:
    read: Answers = {"wristband": {"patient_name": "Ada Quill"}}

    blank: Answers = {"wristband": {"patient_name": ""}}

    assert names_read({"A": read, "B": blank}, *PATIENT_NAME) == {"A": "Ada Quill"}
    assert names_read({"A": EMPTY, "B": read}, *PATIENT_NAME) == {"B": "Ada Quill"}
    assert names_read({"A": read, "B": read}, *PRESCRIBER) == {}


def test_two_names_are_read_for_people() -> None:
    assert [(source, each.name) for source, each in NAMES] == [
        (Source.WRISTBAND, "patient_name"),
        (Source.ORDER, "prescriber"),
    ]


# ---------------------------------------------------------------------------------------------------------
# What a site asks for beside what every site asks

BY_POLICY = {
    Source.ORDER: {"order_number", "prescriber"},
    Source.DEVICE: {"device_serial"},
}


@pytest.mark.parametrize("source", CAN_BE_PUT_RIGHT)
def test_what_policy_may_ask_for_is_asked_where_it_does(source: Source) -> None:
    everywhere = {each.name for each in asked_in(WHOLE, source, ())}

    assert {each.name for each in FIELDS[source] if not each.by_kind} - everywhere == BY_POLICY.get(
        source, set()
    )
    for name in BY_POLICY.get(source, ()):
        assert {each.name for each in asked_in(WHOLE, source, (name,))} == {*everywhere, name}


def test_what_a_syringe_is_that_takes_the_place_of_another_is_asked_where_one_is_changed() -> None:
    asking = {kind.name for kind in KINDS.values() if kind.also_reads}
    assert asking == {SYRINGE_CHANGE.name, REPEAT_SET_UP.name}
    assert REPEAT_SET_UP.also_reads == SYRINGE_CHANGE.also_reads
    of_kind = {each.name for each in asked_in(WHOLE, Source.LABEL, SYRINGE_CHANGE.also_reads)}
    assert of_kind - {each.name for each in asked_in(WHOLE, Source.LABEL, ())} == {"comes_as", "part_left"}
    # Of both; how much is left of one that is part-used alone; and nothing of it rides along elsewhere.
    for slot in (FIRST, SECOND):
        asked = asked_of(slot, WHOLE, Source.LABEL, is_scanned=False, also_read=SYRINGE_CHANGE.also_reads)
        assert {"comes_as", "part_left"} <= {each.name for each in asked}
    for comes_as, lacking in (("part-used", (("label", "part_left"),)), ("new", ())):
        read = answers(label={"comes_as": comes_as})
        assert missing(WHOLE, read, EMPTY, also_read=SYRINGE_CHANGE.also_reads) == lacking
        assert "comes_as" not in in_scope(WHOLE, read)["label"]


@pytest.mark.parametrize("slot", [FIRST, SECOND])
def test_both_are_asked_for_it(slot: int) -> None:
    asked = asked_of(slot, WHOLE, Source.DEVICE, is_scanned=False, also_read=("device_serial",))

    assert "device_serial" in {each.name for each in asked}


def test_a_number_that_the_site_asks_for_is_missed_and_a_prescriber_is_not() -> None:
    also_read = ("order_number", "prescriber", "device_serial")

    assert missing(WHOLE, answers(), EMPTY, also_read=also_read) == (
        ("order", "order_number"),
        ("device", "device_serial"),
    )
    assert missing(WHOLE, answers(), EMPTY, also_read=("prescriber",)) == ()


def test_what_is_named_one_by_one_is_read_again_whatever_the_policy_says_since() -> None:
    scope = (("order", ("order_number",)),)

    assert [each.name for each in asked_in(scope, Source.ORDER, ())] == ["order_number"]


def test_what_the_site_does_not_ask_for_does_not_ride_along() -> None:
    given = {"device": {"device_serial": "7", "lockout": "10 min"}}
    scope = (("device", ()),)

    assert in_scope(scope, given) == {"device": {"lockout": "10 min"}}
    assert in_scope(scope, given, ("device_serial",)) == given
