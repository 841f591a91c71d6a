"""What a comparison says of the account once both readings can be right, and about whom it is."""

import json
from datetime import timedelta

import pytest

from app.accounting import balance
from app.judging.account import LOOK_AT_PATIENT, _is_about, judge_account, read_entries
from app.judging.judge import Against, Judged, Read, judge
from app.judging.rounds import compared
from app.records.followup import Found
from app.records.kept import A, B
from app.records.kinds import RE_CHECK, SET_UP
from app.records.known import NOTHING_KNOWN, Known, known_in
from app.records.reading import Answers
from app.records.rules import LIBRARY
from app.records.sources import NONE
from tests.factories.answers import answers, changed
from tests.judging.test_account import BEGAN, KNOWN, apart, reading
from tests.judging.test_rounds import ROUND, RULES


def test_the_reading_of_the_second_enters_the_account() -> None:
    judged = judge_account(KNOWN, {"policy": {}}, {A: reading(), B: reading(241, left="17.2 mL")}, {})

    assert judged.findings == ()
    assert judged.result is not None
    assert judged.result["syringes"][0]["volume"]["left"]["shown"] == "17.2 mL"
    assert judged.result["infusion"]["volume"]["delivered_by_device"]["shown"] == "10 mL"


def test_what_does_not_add_up_is_found_with_the_words_of_the_account() -> None:
    both = {A: reading(left="9 mL"), B: reading(241, left="9 mL")}
    (found,) = judge_account(KNOWN, {"policy": {}}, both, {}).findings

    assert (found.code, found.severity, found.field) == (
        "account-left-below-predicted",
        "stop",
        "totals.left",
    )
    assert found.origin == "account"
    # Less is left than what the device says it gave: that is about the patient first.
    assert found.says.startswith(f"{LOOK_AT_PATIENT} Recount together")
    assert (found.about, found.is_of_account, found.is_recounted) == ("patient", True, True)
    # Both sign that it is open: it keeps nobody from signing.
    assert not found.is_open(set())
    assert not found.reads_apart


def judged_of(**totals: str) -> list[Found]:
    """What is found where both read the same."""
    both = {A: reading(240, **totals), B: reading(241, **totals)}
    return list(judge_account(KNOWN, {"policy": {}}, both, {}).findings)


def test_more_left_than_predicted_is_about_the_account_and_asks_for_no_patient() -> None:
    (found,) = judged_of(left="27.7 mL")

    assert (found.code, found.about) == ("account-left-above-predicted", "account")
    assert LOOK_AT_PATIENT not in found.says


@pytest.mark.parametrize(
    ("totals", "code"),
    [
        ({"doses": "40", "presses": "40"}, "account-doses-above-possible"),
        ({"total_amount": "2.9 mg", "left": "13.2 mL"}, "account-totals-above-predicted"),
        ({"total_amount": "6 mg", "doses": "none", "presses": "none"}, "account-totals-above-possible"),
    ],
)
def test_what_may_be_too_much_is_about_the_patient(totals: dict[str, str], code: str) -> None:
    found = {each.code: each for each in judged_of(**totals)}

    assert found[code].about == "patient"
    assert found[code].says.startswith(LOOK_AT_PATIENT)


def test_a_caution_is_about_neither() -> None:
    found = {each.code: each.about for each in judged_of(total_amount="1.5 mg")}

    assert found["account-totals-below-predicted"] == ""


def test_a_syringe_that_was_taken_off_short_is_about_the_patient_until_the_infusion_has_ended() -> None:
    at = (BEGAN + timedelta(hours=4)).isoformat()
    off = {
        "kind": "removed",
        "totals": {"amount": "2 mg", "presses": 13, "doses": 10},
        "left": "9 mL",
        "at": at,
    }
    entries = (*KNOWN.account, {"kind": "paused", "at": at}, off)
    wasted = {"kind": "wasted", "syringe": "1", "volume": "9 mL", "witnessed": True, "at": at}
    said = {
        ended: {
            each["code"]: _is_about(each, has_ended=ended)
            for each in balance(read_entries((*entries, wasted, {"kind": "end", "at": at}), {})).as_json()[
                "findings"
            ]
        }
        for ended in (False, True)
    }

    assert said == {False: {"unexplained": "patient"}, True: {"unexplained": "account"}}


def test_the_sites_rules_of_the_account_count() -> None:
    both = {A: reading(left="9 mL"), B: reading(241, left="9 mL")}

    assert judge_account(KNOWN, {"policy": {}}, both, {"at_least": "10 mL"}).findings == ()


@pytest.mark.parametrize(
    ("known", "first"),
    [
        (NOTHING_KNOWN, reading()),
        (KNOWN, {**answers(), "totals": {}}),
        (KNOWN, {**answers(), "totals": {"left": NONE, "total_amount": NONE, "read_at": BEGAN.isoformat()}}),
    ],
)
def test_without_an_account_or_a_reading_of_it_nothing_is_said(known: Known, first: Answers) -> None:
    judged = judge_account(known, {"policy": {}}, {A: first, B: reading()}, {})

    assert (judged.findings, judged.result) == ((), None)


def re_checked(known: Known, *, first: Answers, second: Answers) -> Judged:
    at = BEGAN + timedelta(hours=5)
    rules = Against(policy=RULES.policy.engine, library=RULES.content(LIBRARY)["drugs"])
    return judge(RE_CHECK, Read(answers=first, at=at), Read(answers=second, at=at), known=known, rules=rules)


def test_what_was_started_without_a_check_has_an_account_once_label_and_device_are_read_alike() -> None:
    begun = Known(begun=BEGAN.isoformat())

    agreed = re_checked(begun, first=reading(), second=reading(241))
    assert agreed.account is not None
    assert agreed.account["syringes"][0]["volume"]["loaded"]["shown"] == "30 mL"

    otherwise = changed(reading(241), label={"amount": "12 mg"})
    assert re_checked(begun, first=reading(), second=otherwise).account is None


def test_what_was_spilt_before_anybody_had_checked_what_runs_is_not_missing_at_its_first_check() -> None:
    """Nor is it told to a third person again who has closed that nobody saw it go."""
    gone = {"kind": "wasted", "at": BEGAN.isoformat(), "syringe": "1", "volume": "5 mL", "witnessed": False}
    less = changed(reading(), totals={"left": "12.7 mL"})
    codes = []
    for known in (
        Known(begun=BEGAN.isoformat()),
        Known(begun=BEGAN.isoformat(), spilt=(gone,)),
        Known(begun=BEGAN.isoformat(), spilt=(gone,), settled=(0,)),
    ):
        judged = re_checked(known, first=less, second=less)
        codes.append({each.code for each in judged.findings if each.origin == "account"})
    assert codes == [{"account-left-below-predicted"}, {"account-not-witnessed"}, set()]


def test_a_set_up_has_no_account_yet() -> None:
    at = BEGAN + timedelta(hours=5)
    rules = Against(policy=RULES.policy.engine, library=RULES.content(LIBRARY)["drugs"])
    read = Read(answers=reading(), at=at)

    assert judge(SET_UP, read, read, known=NOTHING_KNOWN, rules=rules).account is None


def test_what_is_kept_of_a_round_has_all_that_the_account_rests_on() -> None:
    _, _, result = compared(RE_CHECK, RULES, ROUND, {1: reading(), 2: reading(241)}, known=KNOWN, salt="5a")
    told_of_it = json.loads(result)["account"]

    assert (told_of_it["entries"], told_of_it["begun"]) == ([*KNOWN.account], "")
    assert told_of_it["policy"] == RULES.policy.account
    assert told_of_it["result"]["infusion"]["volume"]["left"]["shown"] == "17.7 mL"
    # Verified by that alone.
    assert known_in(json.loads(result), json.loads(result)).account == KNOWN.account


def test_a_device_that_counts_amounts_and_is_set_in_millilitres_tells_nothing_of_what_is_left() -> None:
    *before, _, started = KNOWN.account
    in_ml = {
        "kind": "settings",
        "mode": "demand",
        "limit": {"amount": "10 mL", "window": "4 h"},
        "demand_dose": "1 mL",
        "lockout": "10 min",
        "at": started["at"],
    }
    known = Known(account=(*before, in_ml, started))

    assert "left" not in apart(reading(), reading(275, total_amount="2.6 mg", left="16.7 mL"), known)
    assert "left" in apart(reading(), reading(275, total_amount="2.6 mg", left="14.7 mL"), known)
