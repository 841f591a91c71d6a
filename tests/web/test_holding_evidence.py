"""Kept evidence on the pages: whoever holds it reads its seal, and who held it when stands there too."""

import pytest

from app.records.state import Phase
from tests.story.pages import Pair, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World
from tests.web.test_emergencies import infusion_of, main_of, state_of, taps

TO_DO = "To do: whoever holds it confirms that, by sign-in and the number on the seal; nobody has yet."
NO_NUMBER = "To do: lock it, seal it, and write down the number of the seal."
CONFIRM = "I hold it: confirm that"
DIFFERS = "On the seal of what is kept as evidence another number was read than was written."


@pytest.fixture
def pair(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


def seals(pair: Pair) -> Page:
    """The first nurse writes down what is kept, and under which seal."""
    taps(pair, "Suspected overdose")
    return pair.first.press("Write it down", seal="LK 7701", holder="Imogen", place="safe 2", left="26")


def shows(pair: Pair, browser: Browser) -> Page:
    return browser.get(f"/infusion/{infusion_of(pair)}")


def confirms(pair: Pair, browser: Browser, seal: str) -> Page:
    shows(pair, browser)
    browser.follow(CONFIRM)
    return browser.press("I hold it, and this is its seal", seal=seal)


def test_whoever_holds_it_reads_its_seal_and_stands_on_the_page_with_the_time(pair: Pair) -> None:
    taps(pair, "Suspected overdose")
    colleague = pair.world.at("i.bexley")
    assert NO_NUMBER in main_of(colleague.get("/"))
    seals(pair)
    # Nobody is away: the patient lies there, and what ran is kept.
    assert "kept as evidence" in main_of(colleague.get("/"))
    assert "away without PCA" not in main_of(colleague.page)
    assert "Kept as evidence, since" in main_of(shows(pair, colleague))
    for page in (colleague.get("/"), pair.world.at("r.calloway").get("/now"), shows(pair, colleague)):
        assert TO_DO in main_of(page)
        assert "7701" not in page.text
    assert "Number of the seal: not shown." in main_of(colleague.page)
    colleague.follow("Write down more")
    assert "7701" not in colleague.page.text

    shows(pair, colleague)
    page = colleague.follow(CONFIRM)
    assert page.heading == "I hold what is kept as evidence"
    said = main_of(page)
    assert "Who is said to hold it: Imogen" in said
    assert "Where it is said to be locked: safe 2" in said
    assert "7701" not in page.text
    assert not page.with_id("field-seal").get("value")
    page = colleague.press("I hold it, and this is its seal")
    assert (page.status, "Read the number on the seal, and write it." in page.text) == (422, True)
    page = colleague.press("I hold it, and this is its seal", seal="lk-7701")

    said = main_of(page)
    assert page.path == f"/infusion/{infusion_of(pair)}"
    assert "Who has confirmed to hold it, the latest last: Imogen Bexley, since" in said
    assert "Held as evidence, as the holder confirmed, Imogen Bexley" in said
    assert TO_DO not in said
    assert CONFIRM not in page.links()
    assert TO_DO not in main_of(colleague.get("/"))
    # It is handed on: each who takes it over is added, and told of it.
    pharmacist = pair.world.at("p.varga")
    page = confirms(pair, pharmacist, "LK 7701")
    said = main_of(page)
    assert said.index("Imogen Bexley, since") < said.index("Petra Varga, since")
    assert state_of(pair).emergencies.custody.holder == pair.world.person("p.varga").id


def test_it_is_confirmed_with_id_and_secret_and_by_nobody_else_at_the_screen(pair: Pair) -> None:
    seals(pair)
    colleague = pair.world.at("i.bexley")
    colleague.credential = None
    page = confirms(pair, colleague, "LK 7701")
    assert page.heading == "Id and secret, once more"
    page = colleague.press("Do it", own_id="p.varga", own_secret=pair.world.secrets["p.varga"])
    assert "This is not whoever is signed in here." in page.text
    assert not state_of(pair).emergencies.custody.is_received


def test_another_number_is_said_plainly_and_told_to_who_looks_into_it(pair: Pair) -> None:
    seals(pair)
    others = {login: pair.world.at(login) for login in ("r.calloway", "q.lindqvist", "t.osmund")}
    colleague = pair.world.at("i.bexley")
    page = confirms(pair, colleague, "7710")
    assert page.status == 409
    assert "This is not the number that was written: nobody has taken it over." in page.text
    assert "LK" not in page.text
    assert not page.with_id("field-seal").get("value")
    told = {login: DIFFERS in each.get("/keys").text for login, each in others.items()}
    assert told == {"r.calloway": True, "q.lindqvist": True, "t.osmund": False}
    assert DIFFERS not in others["r.calloway"].get("/stop").text
    others["r.calloway"].get("/keys")
    others["r.calloway"].follow("See at which bed")
    assert "another number on the seal than was written" in main_of(others["r.calloway"].page)
    # Whoever investigates reads both.
    said = main_of(shows(pair, others["q.lindqvist"]))
    assert "Number of the seal: LK 7701" in said
    assert "Number on the seal, as it was read: 7710" in said
    assert "7710" not in main_of(shows(pair, colleague))
    confirms(pair, colleague, "LK 7701")
    assert DIFFERS not in others["r.calloway"].get("/keys").text


def test_whoever_wrote_it_is_offered_nothing_and_told_why(pair: Pair) -> None:
    page = seals(pair)
    assert CONFIRM not in page.links()
    page = pair.first.get(f"/infusion/{infusion_of(pair)}/evidence")
    assert page.status == 409
    assert "another one confirms" in main_of(page)


def test_what_cannot_be_confirmed_says_why(pair: Pair) -> None:
    colleague, address = pair.world.at("i.bexley"), f"/infusion/{infusion_of(pair)}/evidence"
    assert "Nothing of this infusion is kept as evidence now." in colleague.get(address).text
    taps(pair, "Suspected overdose")
    page = colleague.get(address)
    assert (page.status, "The number of its seal is not written yet." in page.text) == (409, True)
    assert CONFIRM not in shows(pair, colleague).links()
    seals(pair)
    assert pair.world.at("i.bexley", "recovery").get(address).status == 404
    assert pair.world.at("a.moreau").get(address).status == 403


def test_whoever_holds_it_does_not_give_it_free(pair: Pair) -> None:
    seals(pair)
    quality = pair.world.at("q.lindqvist")
    confirms(pair, quality, "LK 7701")
    shows(pair, quality)
    page = quality.press("Give it free")
    assert (page.status, "You hold it, as you confirmed." in main_of(page)) == (409, True)
    confirms(pair, pair.world.at("p.varga"), "LK 7701")
    shows(pair, quality)
    quality.press("Give it free")
    assert state_of(pair).emergencies.evidence is None


def test_of_what_started_without_a_check_it_is_confirmed_too(world: World) -> None:
    """It has no check of which a look could be written down."""
    nurse, colleague = world.at("n.ferrow"), world.at("i.bexley")
    nurse.get("/started-without-check")
    nurse.press("Write it down", bed="7", reason="Nobody could come")
    nurse.get("/")
    nurse.follow("All of this infusion")
    infusion = nurse.page.path
    nurse.follow("Reversal agent, overdose, key, device or away: write it down")
    nurse.press("Suspected overdose")
    nurse.press("Write it down", seal="LK 7701")
    colleague.get(infusion)
    colleague.follow(CONFIRM)
    page = colleague.press("I hold it, and this is its seal", seal="LK 7701")
    assert "Imogen Bexley, since" in words_of(page.with_id("main"))
    nurse.get(infusion)
    nurse.follow("Write down more")
    assert "Number of the seal: LK 7701" in words_of(nurse.page.with_id("main"))
