"""The pages of drug that goes outside of any check: from the infusion's page to the charge nurse's list."""

import pytest

from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import Pair, pair_of, started
from tests.support.browser import Page, words_of
from tests.support.world import World

SPILT = {"what": "spilt", "in_syringe": "2", "lot": "LOT-7"}


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


@pytest.fixture
def running(world: World) -> Pair:
    return started(world)


def waste_page(pair: Pair) -> Page:
    pair.first.get(f"/infusion/{pair.state.check.infusion}")
    return pair.first.follow("Waste, return or spill")


def reads(pair: Pair, **given: str) -> Page:
    waste_page(pair)
    return pair.first.press("Now the witness reads", **{**SPILT, **given})


def sees(pair: Pair, login: str = "i.bexley", volume: str = "2") -> Page:
    secret = pair.world.secrets[login]
    return pair.first.press("I saw it", in_syringe=volume, login=login, secret=secret)


def test_it_is_read_and_seen_and_stands_on_the_page_of_the_infusion(running: Pair) -> None:
    page = reads(running)
    assert page.heading == "The witness reads"
    assert "Some of it was spilt or lost, syringe 1, lot LOT-7." in main_of(page)
    page = sees(running)
    assert page.path == f"/infusion/{running.state.check.infusion}"
    assert "2 mL spilt or lost: witnessed by Imogen Bexley. Lot LOT-7." in main_of(page)


def test_the_witness_is_shown_the_same_whatever_was_read_first(running: Pair) -> None:
    pages: list[tuple[str, str, str]] = []
    for volume in ("2.8", "1.3719"):
        running.first.get(f"/infusion/{running.state.check.infusion}/waste?anew=1")
        page = running.first.press("Now the witness reads", **{**SPILT, "in_syringe": volume})
        assert volume not in page.body
        pages.append(main_of(page).partition(" Here, until"))
    (one, _, after_one), (other, _, after_other) = pages
    assert (one, len(after_one)) == (other, len(after_other))


def test_two_volumes_apart_show_neither_and_keep_what_else_was_written(running: Pair) -> None:
    reads(running)
    page = sees(running, volume="9.3719")
    assert page.status == 409
    assert "Both of you read once more, each alone" in page.text
    assert "9.3719" not in page.body
    form, _ = page.form_with("Now the witness reads")
    held = dict(form.held)
    assert (held["lot"], held["what"], held["in_syringe"]) == ("LOT-7", "spilt", "")
    # A colleague finds none of it.
    browser = running.world.at("r.calloway")
    assert "LOT-7" not in browser.get(page.path.removesuffix("/witness")).body


def test_nobody_saw_it_and_the_charge_nurse_closes_it_with_a_reason(running: Pair) -> None:
    reads(running)
    page = running.first.press("not witnessed")
    assert "2 mL spilt or lost: NOT WITNESSED: nobody else saw it. Lot LOT-7." in main_of(page)
    assert "it is the charge nurse's to settle" in main_of(page)
    assert "account is open" not in running.first.get("/").text
    charge = running.world.at("r.calloway")
    page = charge.get("/")
    assert "what went of it was not witnessed, or not received" in page.text
    page = charge.get(page.links()["Close it, with the reason"])
    assert "was not witnessed, or not received" in page.text
    assert "Look at the check" not in page.text
    assert charge.press("Close the account", reason="Mopped up, two saw the floor.").path == "/"
    assert "account is open" not in charge.page.text


def test_what_is_wrong_stands_beside_its_field_and_nothing_is_lost(running: Pair) -> None:
    page = reads(running, in_syringe="31")
    assert page.status == 422
    assert 'href="#field-in_syringe"' in page.body
    assert 'value="31"' in page.body
    page = reads(running, what="wasted")
    assert "This syringe is on the device" in page.text
    page = reads(running, lot="LOT-9")
    assert 'href="#field-lot"' in page.body
    waste_page(running)
    page = running.first.press("Now the witness reads")
    assert page.status == 422
    assert "Choose what became of it." in page.text


def test_a_witness_is_refused_beside_the_field_and_the_secret_is_not_kept(running: Pair) -> None:
    reads(running)
    page = sees(running, login=running.logins[0])
    assert page.status == 422
    assert "Whoever writes it is no witness of it." in page.text
    assert running.world.secrets[running.logins[0]] not in page.body


def test_whoever_prescribed_it_is_no_witness(world: World) -> None:
    pair = pair_of(world.asks_for_more())
    pair.opens()
    pair.joins()
    pair.read(answers(order={"prescriber": "Imogen BEXLEY"}))
    pair.take_steps()
    pair.both_sign()
    pair.look()
    pair.start()
    reads(pair)
    assert "Whoever prescribed it is no witness" in sees(pair).text
    assert sees(pair, login="r.calloway").path == f"/infusion/{pair.state.check.infusion}"


def test_who_reads_blind_there_writes_nothing_of_it_and_is_not_shown_the_way(running: Pair) -> None:
    running.re_checks()
    infusion = running.state.check.infusion
    page = running.first.get(f"/infusion/{infusion}")
    assert "Waste, return or spill" not in page.text
    page = running.first.get(f"/infusion/{infusion}/waste")
    assert page.status == 409
    assert "You read here, each alone." in page.text
    assert running.phase() is Phase.READING
