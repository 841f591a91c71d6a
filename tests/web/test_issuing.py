"""The pages of a syringe that is issued: from the list to the infusion's page, and back to the pharmacy."""

from tests.story.pages import Pair, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World

GIVEN = {
    "bed": "12",
    "source": "pharmacy",
    "giver": "Petra Varga",
    "receiver": "Nadia Ferrow",
    "number": "LOT-7",
    "volume": "30",
    "sealed": "yes",
}


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def issues(browser: Browser, **given: str) -> Page:
    browser.get("/")
    browser.follow("A syringe is issued for a bed")
    return browser.press("Write it down", **{**GIVEN, **given})


def test_it_stands_on_the_infusions_page_and_on_the_list_by_state_alone(world: World) -> None:
    nurse = world.at("n.ferrow")
    page = issues(nurse)
    assert "A syringe was issued from the pharmacy: Petra Varga to Nadia Ferrow." in main_of(page)
    assert "It goes back unopened" in page.text
    listed = main_of(nurse.get("/"))
    assert "A syringe was issued for" in listed
    assert "LOT-7" not in listed
    assert "30" not in listed.partition("issued for")[2].partition("Show")[0].partition("since")[0]


def test_faults_stand_beside_their_fields_and_nothing_is_lost(world: World) -> None:
    page = issues(world.at("n.ferrow"), receiver="petra varga", volume="30 mg")
    assert page.status == 422
    assert 'href="#field-volume"' in page.body
    assert 'value="LOT-7"' in page.body
    page = issues(world.at("n.ferrow"), receiver="petra varga")
    assert (page.status, "Two people" in page.text) == (422, True)
    page = issues(world.at("n.ferrow"), bed="nowhere")
    assert (page.status, 'href="#field-bed"' in page.body) == (422, True)


def test_one_more_of_the_same_lot_is_said_to_be_so(world: World) -> None:
    nurse = world.at("n.ferrow")
    assert "one more" not in issues(nurse).text
    page = issues(nurse)
    assert (page.status, "is not put on yet" in page.text) == (409, True)
    page = nurse.press("Write it down", another="yes")
    assert main_of(page).count("It goes back unopened") == 2


def test_a_pharmacist_takes_it_back_with_id_and_secret(world: World) -> None:
    nurse = world.at("n.ferrow")
    issues(nurse)
    nurse.follow("It goes back unopened")
    page = nurse.press("I take it", login="r.calloway", secret=world.secrets["r.calloway"])
    assert (page.status, "A pharmacist signs for it" in page.text) == (422, True)
    assert world.secrets["r.calloway"] not in page.body
    page = nurse.press("I take it", login="p.varga", secret="wrong")
    assert (page.status, 'href="#field-secret"' in page.body) == (422, True)
    page = nurse.press("I take it", login="p.varga", secret="wrong")
    assert page.status == 422


def test_nobody_signed_for_it_and_it_is_the_charge_nurses(world: World) -> None:
    nurse = world.at("n.ferrow")
    issues(nurse)
    nurse.follow("It goes back unopened")
    page = nurse.press("nobody signed for it")
    assert "NOBODY SIGNED FOR IT" in main_of(page)
    assert "not received" in main_of(world.at("r.calloway").get("/"))
    # Once is enough.
    assert "not put on yet" not in main_of(nurse.get("/"))


def test_whoever_reads_there_is_told_to_leave_it_to_a_colleague(world: World) -> None:
    pair: Pair = pair_of(world)
    pair.opens()
    pair.joins()
    page = issues(pair.first, bed=pair.bed)
    assert (page.status, "a colleague may do it now" in page.text) == (409, True)
