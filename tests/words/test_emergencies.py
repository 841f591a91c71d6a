"""What an emergency leaves behind is said so that one knows what comes first."""

import pytest

from app.records.custody import Custody
from app.records.restarting import BROUGHT_BY, HeldBack, Wants, Why
from app.words.emergencies import comes_first, custody_words, held_back_words
from app.words.names import named_within


@pytest.mark.parametrize("wants", Wants)
def test_what_comes_before_it_runs_again_is_named(wants: Wants) -> None:
    said = comes_first(wants)

    assert said.startswith(f"Before it runs again: a {named_within(BROUGHT_BY[wants].name)}, by two nurses")
    assert ("with a new set" in said) is (wants is Wants.NEW_SET)


def test_where_nothing_was_left_nothing_comes_first() -> None:
    assert not comes_first(None)


@pytest.mark.parametrize(
    ("custody", "words"),
    [
        (Custody(), "To do: lock it, seal it, and write down the number of the seal."),
        (
            Custody(seal="7701"),
            "To do: whoever holds it confirms that, by sign-in and the number on the seal",
        ),
        (Custody(seal="7701", holder="ruth"), ""),
        (Custody(named=True), ""),
        (Custody(seal="7701", holder="ruth", differs=True), "Whoever looked last read another number"),
        (Custody(seal="7701", differs=True), "Whoever looked last read another number"),
    ],
)
def test_what_is_to_be_done_about_who_holds_it_is_said_until_it_is_done(custody: Custody, words: str) -> None:
    said = custody_words(custody)

    assert said.startswith(words)
    assert bool(said) is bool(words)


@pytest.mark.parametrize("why", Why)
def test_why_it_may_not_be_started_says_what_to_do(why: Why) -> None:
    said = held_back_words(HeldBack(why=why, kind="settings-change"))

    assert said.endswith("write down its end at the stop first.")
    assert {
        Why.EVIDENCE: "until the site's investigator gives them free",
        Why.DECISION: "A prescriber decides first",
        Why.NOT_BACK: "write on the infusion's page that the patient is back",
        Why.OTHER_KIND: "asks for a settings change first",
    }[why] in said
