"""Beds are offered and accepted where they are known, and changed by whoever may."""

import pytest

from app.workflow.beds import beds_of_unit
from tests.support.browser import Page, words_of
from tests.support.world import UNIT, World


def typed(page: Page) -> str | None:
    """The bed as it still stands in its field."""
    return page.with_id("field-bed").get("value")


def test_only_a_known_bed_is_opened_and_what_was_typed_is_not_lost(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/open")
    offered = list(browser.page.with_id("offers-bed"))
    assert [each.get("value") for each in offered] == list(beds_of_unit(world.site, UNIT))
    bed = browser.page.with_id("field-bed")
    assert bed.get("list") == "offers-bed"
    assert bed.get("autofocus") is not None

    page = browser.press("Open the check", unit=UNIT, bed="112")
    assert page.status == 422
    assert "This unit has no such bed. It has: 1 to 36." in page.text
    assert page.links()["Bed"] == "#field-bed"
    assert typed(page) == "112"

    page = browser.press("Open the check", bed=" Bed 12 ")
    assert "bed 12" in page.text
    assert page.heading == "Give this code to your colleague"


def test_what_had_to_start_without_a_check_is_written_at_a_known_bed(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/started-without-check")
    page = browser.press("Write it down", unit=UNIT, bed="112", reason="Nobody could come")
    assert (page.status, typed(page)) == (422, "112")
    assert "This unit has no such bed" in page.text

    assert browser.press("Write it down", bed="bed 7").path == "/"


@pytest.mark.parametrize("login", ["a.moreau", "r.calloway"])
def test_a_bed_is_added_and_retired(world: World, login: str) -> None:
    browser = world.at(login)
    browser.get("/")
    browser.follow("Beds")
    browser.post("/beds", [("csrf_token", browser.token()), ("unit", UNIT), ("bed", "Corridor 1")])
    assert browser.page.path == "/beds"
    assert "Its beds: 1 to 36, Corridor 1" in browser.page.text

    browser.post("/beds/retire", [("csrf_token", browser.token()), ("unit", UNIT), ("bed", "Corridor 1")])
    assert "Corridor 1" not in browser.page.text


def test_what_is_no_bed_or_is_in_use_is_refused_in_words(world: World) -> None:
    world.open_check(world.at("n.ferrow"), bed="12")
    browser = world.at("a.moreau")
    browser.get("/beds")

    def posts(path: str, unit: str, bed: str) -> str:
        page = browser.post(path, [("csrf_token", browser.token()), ("unit", unit), ("bed", bed)])
        return f"{page.status} {page.text}"

    for bed, says in (("", "Write the bed."), ("bed", "Write the bed's number"), ("x" * 21, "Write only")):
        said = posts("/beds", UNIT, bed)
        assert said.startswith("422")
        assert says in said
    assert browser.page.links()["Bed"] == f"#field-bed-{UNIT}"
    assert "Bed 12 is in use" in posts("/beds/retire", UNIT, "12")
    assert "This unit has no such bed" in posts("/beds/retire", UNIT, "99")
    assert posts("/beds", "no-unit", "7").startswith("404")


def test_a_charge_nurse_changes_the_own_unit_alone_and_a_nurse_none(world: World) -> None:
    browser = world.at("r.calloway")
    page = browser.get("/beds")
    assert "Ward 4 East" in page.text
    assert "Recovery room" not in page.text
    forged = [("csrf_token", browser.token()), ("unit", "recovery"), ("bed", "99")]
    assert browser.post("/beds", forged).status == 404
    assert "Recovery room" in world.at("a.moreau").get("/beds").text

    nurse = world.at("n.ferrow")
    assert "Beds" not in nurse.get("/").links()
    assert nurse.get("/beds").status == 403


def test_a_stop_at_an_unknown_bed_tops_the_list_until_the_charge_nurse_says_where_it_was(
    world: World,
) -> None:
    check = world.open_check(world.at("t.osmund"), bed="12")
    nurse, charge = world.at("n.ferrow"), world.at("r.calloway")
    nurse.get("/stop")
    assert nurse.press("The device was stopped", bed="112").heading == "Written down: the device was stopped"

    assert "Say where it was" not in nurse.get("/").links()
    assert "The charge nurse says where it was." in nurse.page.text
    page = charge.get("/")
    words = words_of(page.with_id("main"))
    assert words.index("was stopped at bed 112") < words.index("bed 12")
    page = charge.follow("Say where it was")
    assert "Written down for bed 112 by Nadia Ferrow" in page.text

    page = charge.press("It was at this bed", bed="999")
    assert (page.status, typed(page)) == (422, "999")
    assert "This unit has no such bed" in page.text
    assert charge.press("It was at this bed", bed="Bed 12").path == "/"
    assert "bed 112" not in charge.page.text
    with world.site.store.read() as reader:
        kinds = [each.event.kind for each in reader.entries(check)]
    assert "device-stopped" in kinds


def test_or_that_it_was_nowhere_and_what_was_said_first_stands(world: World) -> None:
    nurse, charge = world.at("n.ferrow"), world.at("r.calloway")
    nurse.get("/stop")
    nurse.press("The device was stopped")
    charge.get("/")
    page = charge.follow("Say where it was")
    assert "Written down for no bed by Nadia Ferrow" in page.text

    # The second press comes from a page that was open before the first.
    again = [("csrf_token", charge.token()), ("unit", UNIT), ("bed", "12")]
    asked_at = page.path
    assert charge.press("It was nowhere").path == "/"
    assert "a bed that was not named" not in charge.page.text
    page = charge.post(asked_at, again)
    assert "Ruth Calloway has said before: it was nowhere" in page.text
    assert charge.get(asked_at).path == "/"


def test_it_is_said_where_nothing_ran_at_the_bed(world: World) -> None:
    charge = world.at("r.calloway")
    charge.get("/stop")
    charge.press("The device was stopped", bed="112")
    charge.get("/")
    charge.follow("Say where it was")
    page = charge.press("It was at this bed", bed="12")
    assert "it was at bed 12. Nothing that is known ran there then." in page.text
