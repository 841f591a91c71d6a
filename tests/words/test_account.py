"""The words of an account, and of what is due: each place, verdict, pace, end and thing has its own."""

from dataclasses import fields

from app.accounting.budget import Verdict
from app.accounting.lasting import Ends, Pace
from app.accounting.places import Places
from app.records.due import DueThing
from app.words.account import ENDS, PACES, PLACES, VERDICTS
from app.words.due import due_words


def test_each_place_is_named_but_for_the_one_that_says_the_same_by_the_scale() -> None:
    assert {*PLACES, "delivered_by_syringe"} == {each.name for each in fields(Places)}


def test_each_verdict_has_its_sentence_the_worst_last() -> None:
    assert list(VERDICTS) == ["balances", "within-tolerance", "does-not-fit", "unexplained"]
    assert set(VERDICTS) == {each.value for each in Verdict}
    assert all(words.endswith(".") for words in VERDICTS.values())


def test_each_pace_and_each_end_is_said() -> None:
    assert (set(PACES), set(ENDS)) == (set(Pace), set(Ends))


def test_what_is_due_is_said_as_an_order() -> None:
    said = [due_words(each) for each in DueThing]
    assert len(set(said)) == len(DueThing)
    assert all(words and not words.endswith(".") for words in said)
