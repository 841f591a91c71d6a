"""The pages of a check of what runs in which the account does not add up."""

from dataclasses import replace
from typing import Any

import pytest

from app.records.reading import Answers
from app.records.state import Phase
from app.web.models.findings import shown
from app.workflow import closing_accounts
from tests.factories.answers import SHORT, answers, changed
from tests.factories.findings import SHORT as TOO_LITTLE
from tests.story.events import Story
from tests.story.pages import Pair, started
from tests.support.world import World, hand_in

LOOK = "Look at the patient now: sedation and breathing; pause if in doubt."
COUNT = "Count together"
OPEN = "The account is open."
MORE = changed(answers(), totals={"left": "36 mL"})


@pytest.fixture
def pair(world: World) -> Pair:
    made = started(world)
    made.re_checks()
    return made


def test_what_may_be_too_much_says_to_look_at_the_patient_before_any_figure(pair: Pair) -> None:
    pair.read(SHORT)
    page = pair.page(pair.first)

    assert page.heading == LOOK
    assert page.text.index("ACT NOW") < page.text.index(LOOK) < page.text.index("Recount together")
    assert "SETTLE BEFORE SIGNING" not in page.text
    assert "DO NOT START" not in page.text


def test_what_is_about_the_account_is_settled_before_signing_and_stops_no_device(pair: Pair) -> None:
    pair.read(MORE)
    page = pair.page(pair.first)

    assert "SETTLE BEFORE SIGNING" in page.text
    assert "ACT NOW" not in page.text
    assert LOOK not in page.text
    assert page.heading.startswith("Recount together")


def test_it_is_counted_together_once_and_then_signed_as_open(pair: Pair) -> None:
    pair.read(SHORT)
    pair.page(pair.first)
    pair.first.press(COUNT)
    page = pair.first.get(f"/check/{pair.check}/read/totals")
    assert "Count this together" in page.text
    assert "read together, this once" in page.text
    pair.read(SHORT)
    page = pair.page(pair.first)
    assert COUNT not in page.text
    assert "Counted together, and it still does not add up. Go on" in page.text
    assert page.text.index("ACT NOW") < page.text.index(LOOK)

    page = pair.page(pair.first, "/sign")
    assert OPEN in page.text
    assert page.text.index(OPEN) < page.text.index("By signing I say")
    pair.sign()
    assert pair.phase() is Phase.DONE
    assert LOOK in pair.page(pair.first, "/record").text


def test_who_waits_in_a_recount_is_not_told_to_keep_silent(pair: Pair) -> None:
    pair.read(SHORT)
    pair.page(pair.first)
    pair.first.press(COUNT)
    page = hand_in(pair.first, pair.check, SHORT)

    assert "Waiting for both readings." in page.text
    assert "Tomas Osmund has joined" in page.text
    assert "Say nothing" not in page.text


@pytest.mark.parametrize(
    ("factor", "loud", "quiet"),
    [
        ("1.76", "", "1.76 times what the device gave"),
        ("2", "TWICE WHAT THE DEVICE GAVE", ""),
        ("0.333", "A THIRD OF WHAT THE DEVICE GAVE", ""),
        ("", "", ""),
    ],
)
def test_a_ratio_of_the_account_says_what_it_is_of(factor: str, loud: str, quiet: str) -> None:
    made = shown(replace(TOO_LITTLE, factor=factor), (), Story().found(TOO_LITTLE).state(), {})

    assert (made.loud, made.ratio) == (loud, quiet)


def test_where_it_adds_up_nobody_signs_that_it_is_open(pair: Pair) -> None:
    pair.read(answers())

    assert OPEN not in pair.page(pair.first, "/sign").text


def test_pressed_twice_it_is_opened_once(pair: Pair) -> None:
    pair.read(SHORT)
    pair.page(pair.first)
    pair.first.press(COUNT)
    form = [("csrf_token", token_in(pair))]
    page = pair.second.post(f"/check/{pair.check}/recount", form)

    assert page.status in (200, 303)
    assert len(pair.state.rounds) == 2


def token_in(pair: Pair) -> str:
    page = pair.second.get("/")
    return next(value for form in page.forms() for name, value in form.held if name == "csrf_token")


def counted(pair: Pair, read: Answers = SHORT) -> None:
    """It was counted together and both have signed."""
    pair.read(read)
    pair.page(pair.first)
    pair.first.press(COUNT)
    pair.read(read)
    pair.sign()


def test_the_charge_nurse_closes_it_with_a_reason(pair: Pair) -> None:
    counted(pair)
    charge = pair.world.at("r.calloway")
    page = charge.get("/")
    assert "The account is open at bed" in page.text
    assert "mL" not in page.text[page.text.index("The account is open") :][:200]
    charge.get(page.links()["Close it, with the reason"])
    page = charge.press("Close the account", reason=" ")
    assert page.status == 422
    assert "Write the reason." in page.text
    page = charge.press("Close the account", reason="Counted with pharmacy.")

    assert page.path == "/"
    assert "The account is open" not in page.text


def test_what_was_found_since_she_looked_is_not_closed_with_it(pair: Pair) -> None:
    counted(pair)
    charge = pair.world.at("r.calloway")
    charge.get(charge.get("/").links()["Close it, with the reason"])
    pair.re_checks()
    counted(pair, answers(totals={"left": "2 mL"}))

    page = charge.press("Close the account", reason="Counted with pharmacy.")
    assert page.status == 409
    assert "Nothing was closed: more was found, or written down, since you looked." in page.text
    assert "It was left open 2 times" in page.text
    assert "a check found more" in page.text
    assert "Counted with pharmacy." in page.text
    assert len({href for words, href in page.links().items() if words.startswith("Look at the check")}) == 1
    assert "more was found or written down since" in charge.get("/").text
    charge.get(page.path)
    assert charge.press("Close the account", reason="Counted with pharmacy.").path == "/"
    assert "The account is open" not in charge.page.text


@pytest.mark.parametrize("shown", ["", "one", "9" * 5000, "-1"])
def test_a_form_that_names_nothing_that_was_shown_closes_nothing(pair: Pair, shown: str) -> None:
    counted(pair)
    charge = pair.world.at("r.calloway")
    charge.get(charge.get("/").links()["Close it, with the reason"])
    assert charge.press("Close the account", reason="Counted with pharmacy.", shown=shown).status == 409


def test_of_what_ended_before_anybody_read_it_she_is_told_that_there_is_no_account(
    pair: Pair, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted(pair)
    found = closing_accounts.find_open_account

    def has_none(*given: Any) -> closing_accounts.OpenAccount | None:  # noqa: ANN401  # as it is called
        account = found(*given)
        return replace(account, has_none=True) if account else None

    monkeypatch.setattr(closing_accounts, "find_open_account", has_none)
    page = pair.world.at("r.calloway").get(f"/infusion/{pair.state.check.infusion}/account/close")
    assert "nobody ever read what was on the device" in page.text
    assert "does not add up" not in page.text


def test_nobody_else_is_told_of_it_or_may_close_it(pair: Pair) -> None:
    counted(pair)
    infusion = pair.state.check.infusion
    for login in ("n.ferrow", "t.osmund", "q.lindqvist"):
        browser = pair.world.at(login)
        assert "account is open" not in browser.get("/").text
        assert browser.get(f"/infusion/{infusion}/account/close").status in (403, 404)


def test_who_reads_blind_at_the_bed_is_not_told_of_it(pair: Pair) -> None:
    counted(pair)
    charge = pair.world.at("r.calloway")
    assert "account is open" in charge.get("/").text
    charge.follow("Check or change")
    charge.press("Open a re-check")

    assert "account is open" not in charge.get("/").text
    assert charge.get(f"/infusion/{pair.state.check.infusion}/account/close").status == 404
