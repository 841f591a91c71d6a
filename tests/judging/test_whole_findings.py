"""Each finding of our own as a whole: what it is called, what it is about and every word that it says."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

import pytest

from app.judging.account import LOOK_AT_PATIENT, found_in, judge_account
from app.judging.findings import caution, finding_key, stop
from app.judging.in_force import looked_at_again
from app.records.followup import Found
from app.records.kept import A, B
from app.records.kinds import HANDOFF
from app.records.known import Known, known_by
from app.records.sources import Source
from tests.factories.answers import HARD_TO_WAKE, answers, changed
from tests.judging.test_account import KNOWN, reading
from tests.judging.test_handoff import _bedside, handed_over, read_again, seen
from tests.judging.test_judge import judged as judged_as

KEYED = ("code", "field", "clinician", "readings", "says")


def told(found: Found) -> dict[str, Any]:
    """What it says, without what is the same for all of them."""
    said = asdict(found)
    assert said.pop("key") == finding_key(**{name: said[name] for name in KEYED})
    assert (said.pop("clinician"), said.pop("slip"), said.pop("reasons"), said.pop("fields")) == (
        "",
        "",
        (),
        (),
    )
    return said


def of_stop(**said: object) -> dict[str, object]:
    return {"severity": "stop", "factor": "", "origin": "", "group": "", "about": "", **said}


def test_what_both_see_otherwise_than_it_should_be() -> None:
    line, button = (
        told(found)
        for found in handed_over(
            seen(line_traced="not-as-it-should-be", button_used="cannot-use-it")
        ).findings
    )

    assert line == of_stop(
        code="line-not-as-it-should-be",
        field="bedside.line_traced",
        readings={"A.bedside": None, "B.bedside": "not-as-it-should-be"},
        says=(
            "Line or site is not as it should be. Put it right at once; then both look, and read this again."
        ),
    )
    assert button == of_stop(
        code="button-not-the-patients",
        field="bedside.button_used",
        readings={"A.bedside": None, "B.bedside": "cannot-use-it"},
        says=(
            "The button is this patient's alone, and only while the patient can use it. "
            "Put it right at once; then both look, and read this again."
        ),
    )


def test_what_two_see_differently_is_named_as_both_saw_it() -> None:
    (slow,) = handed_over(seen(respiratory_rate="8 /min"), seen(respiratory_rate="9 /min")).findings

    assert told(slow) == of_stop(
        code="outside-protocol",
        field="bedside.respiratory_rate",
        readings={"A.bedside": "9 /min", "B.bedside": "8 /min"},
        says=(
            "Breathing is at 8 /min and 9 /min: outside the site's protocol. "
            "Look at the patient now, rouse and stay; pause if in doubt."
        ),
    )


def test_doses_given_to_the_sedated() -> None:
    totals = {"total_amount": "4 mg", "presses": "30", "doses": "20", "left": "8 mL", "read_at": "x"}
    found = _bedside(changed(seen(sedation=HARD_TO_WAKE), totals=totals), Known())

    assert told(found[-1]) == {
        **of_stop(severity="caution", group="patient"),
        "code": "doses-while-sedated",
        "field": "bedside.sedation",
        "readings": {"A.bedside": HARD_TO_WAKE, "B.bedside": HARD_TO_WAKE},
        "says": (
            "20 doses were given since the totals were last read, and sedation is outside the protocol. "
            "Ask who pressed the button."
        ),
    }


def test_what_one_read_otherwise_and_what_was_changed() -> None:
    by_one = handed_over(changed(answers(), device={"lockout": "6 min"})).findings
    by_both = read_again(changed(answers(), label={"lot": "LOT-8"})).findings

    assert [told(each) for each in by_one] == [
        of_stop(
            code="not-in-force",
            field="lockout",
            readings={"A.device": None, "B.device": "6 min"},
            says=(
                "The device is read otherwise than two nurses last checked it. "
                "One read it so: both read it again."
            ),
            origin="reading",
        )
    ]
    assert [told(each) for each in by_both] == [
        of_stop(
            code="changed-since",
            field="lot",
            readings={"A.label": "LOT-8", "B.label": "LOT-8"},
            says="The label is read otherwise than two nurses last checked it: LOT-7 was checked.",
        )
    ]


def test_a_patient_on_the_label_that_is_another_is_named_without_what_was_checked() -> None:
    *_, found = handed_over(changed(answers(), label={"identifier": "DM-51111"})).findings

    assert told(found) == of_stop(
        code="not-in-force",
        field="patient.identifier",
        readings={"A.label": None, "B.label": "DM-51111"},
        says=(
            "The label is read otherwise than two nurses last checked it. One read it so: both read it again."
        ),
        origin="reading",
    )


PER_ML = {"strength": "per-millilitre", "amount": None, "volume": None}
BY_ML = {**PER_ML, "strength": "in-millilitres", "demand_dose": "1 mL", "limit_amount": "10 mL"}


@pytest.mark.parametrize(
    ("in_force", "read", "was"),
    [
        ({}, {**PER_ML, "concentration": "0.2 mg/mL"}, ""),
        ({}, {**PER_ML, "concentration": "0.3 mg/mL"}, "6 mg/30 mL"),
        ({**PER_ML, "concentration": "0.2 mg/mL"}, {}, ""),
        ({**PER_ML, "concentration": "0.2 mg/mL"}, {"volume": "20 mL"}, "0.2 mg/mL"),
    ],
)
def test_a_strength_is_held_beside_the_label_in_force_where_nothing_else_says_one(
    in_force: dict[str, str | None], read: dict[str, str | None], was: str
) -> None:
    # The device counts in millilitres, and no order is known.
    checked = judged_as(changed(answers(), label=in_force, device=BY_ML)).case
    known = replace(known_by(checked).given_to(HANDOFF), order_of_record={})
    found = handed_over(changed(answers(), label=read, device=BY_ML), known=known).findings

    assert [(each.code, each.field) for each in found] == ([("not-in-force", "concentration")] if was else [])
    assert [each.says for each in found] == [
        f"The label is read otherwise than two nurses last checked it: {was} was checked. "
        "One read it so: both read it again."
        for each in found
    ]


def test_of_what_the_engine_stops_nothing_is_hidden_by_what_comes_before() -> None:
    at_risk = caution(code="patient-at-risk", field="opioid_status", readings={}, says="x")
    differs = stop(
        code="device-differs",
        field="lockout",
        readings={"A.device": None, "B.device": "6 min", "A.order": "10 min", "B.order": "10 min"},
        says="x",
        origin="programming",
    )
    # It follows from a value, and would tell of it.
    follows = stop(
        code="limit-below-dose",
        field="limit.amount",
        readings={"A.device": None, "B.device": "1 mg"},
        says="x",
        origin="order",
    )
    found = list(looked_at_again([at_risk, follows, differs], [Source.DEVICE]))

    assert [(each.code, each.field) for each in found] == [("not-in-force", "lockout")]
    assert list(looked_at_again([at_risk, follows, differs], [])) == [follows, differs]


def test_two_readings_of_totals_that_cannot_both_be_right() -> None:
    both = {A: reading(), B: reading(241, left="12.7 mL")}
    (found,) = judge_account(KNOWN, {"policy": {}}, both, {}).findings

    assert told(found) == of_stop(
        code="readings-differ",
        field="totals.left",
        readings={"A.totals": "17.7 mL", "B.totals": "12.7 mL"},
        says="The two readings of this cannot both be right.",
        origin="reading",
    )


def result(**finding: object) -> Mapping[str, Any]:
    """The account's result with one finding."""
    usual = {"severity": "stop", "entry": 7, "stage": "in_use", "factor": None, "says": "Recount."}
    return {"findings": [{"code": "unexplained", "difference": {"exact": "2"}, **usual, **finding}]}


MORE_GONE, LESS_GONE = {"difference": {"exact": "2"}}, {"difference": {"exact": "-2"}}


@pytest.mark.parametrize(
    ("finding", "has_ended", "about"),
    [
        (MORE_GONE, False, "patient"),
        (MORE_GONE, True, "account"),
        (LESS_GONE, False, "account"),
        ({"stage": "in_hand", **MORE_GONE}, False, "account"),
        # Only over-delivery is about the patient, whatever else is found while a syringe is in use.
        ({"code": "left-above-predicted", **MORE_GONE}, False, "account"),
        ({"code": "totals-above-possible"}, False, "patient"),
        ({"code": "totals-above-possible"}, True, "account"),
        ({"severity": "caution", **MORE_GONE}, False, ""),
    ],
)
def test_what_is_found_of_the_account_is_about_the_patient_or_about_the_account(
    finding: Mapping[str, object], *, has_ended: bool, about: str
) -> None:
    (found,) = found_in(result(**finding), has_ended=has_ended)

    assert found.about == about
    assert found.says == (f"{LOOK_AT_PATIENT} Recount." if about == "patient" else "Recount.")


@pytest.mark.parametrize(
    ("code", "field"),
    [
        ("unexplained", "totals.left"),
        ("presses-below-doses", "totals.presses"),
        ("doses-above-possible", "totals.doses"),
        ("series-not-from-zero", "totals.total_amount"),
    ],
)
def test_what_is_found_of_the_account_as_a_whole(code: str, field: str) -> None:
    (found,) = found_in(result(code=code, severity="caution", factor={"shown": "10"}), has_ended=False)

    assert told(found) == of_stop(
        severity="caution",
        code=f"account-{code}",
        field=field,
        readings={},
        factor="10",
        origin="account",
        says="Recount.",
    )
    (plain,) = found_in(result(code=code), has_ended=False)
    assert plain.factor == ""


def test_what_only_lists_say_and_what_was_told_before_is_left_out() -> None:
    assert found_in(result(code="ask-pharmacy"), has_ended=False) == ()
    assert found_in(result(), has_ended=False, told=[("unexplained", 7)]) == ()
    assert found_in(result(), has_ended=False, told=[("unexplained", 6)]) != ()
