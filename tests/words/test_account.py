"""The words of an account, and of what is due: each place, verdict, pace, end and thing has its own."""

from dataclasses import fields
from typing import Any

import pytest

from app.accounting.budget import Verdict
from app.accounting.lasting import Ends, Pace
from app.accounting.places import Places
from app.records.due import DueThing
from app.words.account import ENDS, PACES, PLACES, VERDICTS, adds_up_words, verdict_of
from app.words.due import due_words


def test_each_place_is_named_but_for_the_one_that_says_the_same_by_the_scale() -> None:
    assert {*PLACES, "delivered_by_syringe"} == {each.name for each in fields(Places)}


def test_each_verdict_has_its_sentence_the_worst_last() -> None:
    assert list(VERDICTS) == ["balances", "within-tolerance", "does-not-fit", "unexplained"]
    assert set(VERDICTS) == {each.value for each in Verdict}
    assert all(words.endswith(".") for words in VERDICTS.values())


def account(in_use: str | None, in_hand: str | None) -> dict[str, Any]:
    told = {"in_use": {"verdict": in_use}, "in_hand": {"verdict": in_hand}}
    return {"result": {"infusion": told, "syringes": [], "findings": []}}


@pytest.mark.parametrize(
    ("in_use", "in_hand", "verdict", "says"),
    [
        ("balances", "balances", "balances", "The account so far: it adds up, to the last digit."),
        (
            "balances",
            "within-tolerance",
            "within-tolerance",
            "The account so far: it adds up, within what device and scale may be off.",
        ),
        ("does-not-fit", "balances", "does-not-fit", ""),
        ("balances", "unexplained", "unexplained", ""),
        ("balances", None, "", ""),
    ],
)
def test_the_worse_verdict_counts_and_only_what_adds_up_is_said(
    in_use: str | None, in_hand: str | None, verdict: str, says: str
) -> None:
    made = account(in_use, in_hand)
    assert verdict_of(made["result"]["infusion"]) == verdict
    assert adds_up_words(made) == says


@pytest.mark.parametrize("made", [None, {"result": None}])
def test_where_no_account_was_made_up_nothing_is_said(made: dict[str, Any] | None) -> None:
    assert not adds_up_words(made)


def test_each_pace_and_each_end_is_said() -> None:
    assert (set(PACES), set(ENDS)) == (set(Pace), set(Ends))


def test_what_is_due_is_said_as_an_order() -> None:
    said = [due_words(each) for each in DueThing]
    assert len(set(said)) == len(DueThing)
    assert all(words and not words.endswith(".") for words in said)
