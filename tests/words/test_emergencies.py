"""What an emergency leaves behind is said so that one knows what comes first."""

import pytest

from app.records.restarting import BROUGHT_BY, HeldBack, Wants, Why
from app.words.emergencies import comes_first, held_back_words
from app.words.names import named_within


@pytest.mark.parametrize("wants", Wants)
def test_what_comes_before_it_runs_again_is_named(wants: Wants) -> None:
    said = comes_first(wants)

    assert said.startswith(f"Before it runs again: a {named_within(BROUGHT_BY[wants].name)}, by two nurses")
    assert ("with a new set" in said) is (wants is Wants.NEW_SET)


def test_where_nothing_was_left_nothing_comes_first() -> None:
    assert not comes_first(None)


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
