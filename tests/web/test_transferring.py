"""A patient taken from another unit, on the pages: the tap, what both lists say, the check that is due."""

import pytest

from app.records.kinds import TRANSFER
from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import Pair, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import UNIT, World

RECOVERY, TO = "recovery", "3"
TAKES = "Take a patient from another unit"


@pytest.fixture
def pair(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


@pytest.fixture
def receiver(pair: Pair) -> Browser:
    return pair.world.at("i.bexley", unit=RECOVERY)


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def takes(browser: Browser, *, unit: str = UNIT, before: str = "12", bed: str = TO) -> Page:
    browser.get("/")
    browser.follow(TAKES)
    return browser.press("I take this patient", unit=unit, before=before, bed=bed)


def test_by_one_tap_the_patient_is_taken_and_both_units_are_told(pair: Pair, receiver: Browser) -> None:
    page = takes(receiver)
    assert page.heading == "Taken from Ward 4 East, bed 12"
    assert "Check due: two read what runs by 2 May 2031" in main_of(page)
    assert "Nadia Ferrow opens the transfer check" in main_of(page)

    assert "check due" in main_of(receiver.get("/"))
    at_old_bed = main_of(pair.second.get("/"))
    assert "Taken from Ward 4 East, bed 12 to Recovery room" in at_old_bed
    # There its own line is gone, and with it whatever only the unit may do that has it.
    assert "Nobody else has a check open here, and nothing runs." in at_old_bed
    infusion = pair.state.check.infusion
    # Nor does it get lost between two papers.
    sheet = main_of(pair.world.at("r.calloway").get("/shift-sheet"))
    assert "Taken from Ward 4 East, bed 12 to Recovery room" in sheet
    assert "Check due: two read what runs by 2 May 2031" in sheet
    assert "Imogen Bexley answers for it now." in main_of(receiver.get(f"/infusion/{infusion}"))


def test_the_sending_nurse_opens_the_receiving_nurse_joins_and_it_is_done(
    pair: Pair, receiver: Browser
) -> None:
    takes(receiver)
    pair.first.get("/")
    page = pair.first.press("Open the transfer check")
    pair.check = page.links()["Begin my reading"].split("/")[2]
    pair.second, pair.logins = receiver, ("n.ferrow", "i.bexley")
    receiver.get("/")
    assert receiver.follow("Join as receiving").status == 200
    receiver.press("Join and read alone")
    pair.read(answers())
    assert pair.page(pair.first).heading == TRANSFER.agrees
    pair.sign()

    assert pair.phase() is Phase.DONE
    assert "Taken from" not in main_of(pair.first.get("/"))
    assert "check due" not in main_of(receiver.get("/"))
    assert "taken from another unit is what is in force" in main_of(pair.page(receiver, "/record"))


def test_whoever_took_the_patient_joins_and_a_colleague_says_that_the_sender_has_left(
    pair: Pair, receiver: Browser
) -> None:
    takes(receiver)
    receiver.get("/")
    page = receiver.press("Open the transfer check")
    assert (page.status, "you join this check" in page.text) == (409, True)

    colleague = pair.world.at("t.osmund", unit=RECOVERY)
    colleague.get("/")
    page = colleague.press("Open the transfer check")
    assert (page.status, page.heading) == (409, "Nadia Ferrow brought this patient")
    assert colleague.press("Nadia Ferrow has left").heading == "Give this code to your colleague"


def test_a_check_that_is_open_there_is_told_of_and_ends_with_the_next_tap(
    pair: Pair, receiver: Browser
) -> None:
    pair.re_checks()
    page = takes(receiver)
    assert page.status == 409
    assert "Its two finish it there; or is the patient here already?" in page.text
    page = receiver.press("I take this patient: that check ends")
    assert page.heading == "Taken from Ward 4 East, bed 12"
    assert pair.phase() is Phase.ABANDONED


def test_of_what_stands_pages_say_so(pair: Pair, receiver: Browser) -> None:
    pair.first.get(f"/infusion/{pair.state.check.infusion}/emergency")
    pair.first.press("Theatre")
    page = takes(receiver)
    assert "two read what stands by" in main_of(page)
    assert "Nadia Ferrow opens the handoff of what stands" in main_of(page)
    assert "away without PCA" in main_of(receiver.get("/"))
    pair.first.get("/")
    assert pair.first.press("Open the handoff of what stands").status == 200


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"unit": ""}, "Choose the unit."),
        ({"before": ""}, "Write the bed that the patient comes from."),
        ({"bed": ""}, "Write the bed that the patient lies in now."),
        ({"before": "13"}, "Nothing runs at that bed"),
        ({"before": "no such"}, "has no such bed"),
        ({"bed": "no such"}, "has no such bed"),
    ],
)
def test_what_is_at_fault_is_said_beside_its_field_and_nothing_is_lost(
    receiver: Browser, given: dict[str, str], says: str
) -> None:
    page = takes(receiver, **given)

    assert (page.status, says in page.text) == (422, True), main_of(page)
    form, _ = page.form_with("I take this patient")
    kept = {"unit": UNIT, "before": "12", "bed": TO, **given}
    assert {name: dict(form.held).get(name, "") for name in kept} == kept


def test_the_second_tap_says_who_took_the_patient(receiver: Browser) -> None:
    takes(receiver)

    page = takes(receiver)

    assert page.status == 409
    assert "Imogen Bexley took this patient already, to Recovery room" in page.text


def test_what_is_checked_just_now_is_not_taken(pair: Pair, receiver: Browser) -> None:
    pair.hands_over()

    page = takes(receiver)

    assert (page.status, "A check of it is open on the other unit" in page.text) == (409, True)


def test_the_sending_unit_pauses_and_stops_it_until_two_have_read(pair: Pair, receiver: Browser) -> None:
    takes(receiver)
    pair.first.get("/")
    pair.first.follow("Pause the line")
    assert "Recovery room" in pair.first.page.text
    infusion = pair.state.check.infusion
    assert pair.first.get(f"/infusion/{infusion}").status == 404
    assert pair.first.get(f"/infusion/{infusion}/taken").status == 404
