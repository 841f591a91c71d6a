"""The same thing done twice, back and again, or from two tabs: one effect, and the truth is shown."""

import re

import pytest
from playwright.sync_api import expect

from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import LOGINS, Beforehand, events_of
from tests.browser.devices import absent
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

with_and_without_scripts = pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])


def id_of(ward: Ward, login: str) -> str:
    with ward.running.site.store.read() as reader:
        person = reader.find_person_by_login(login)
    assert person is not None
    return person.id


def _looks_over(ward: Ward, scene: Scene, beforehand: Beforehand, *, scripts: bool = True) -> Nurse:
    """A nurse who has read everything, and looks over it."""
    beforehand.at_stage(Phase.READING).drafts(beforehand.who("n.ferrow"), scene.quiet)
    one = ward.nurse("n.ferrow", ward.device(scripts=scripts))
    one.look_at_check(scene.place)
    one.sees_heading("Go over my reading")
    return one


@with_and_without_scripts
def test_hand_in(ward: Ward, scene: Scene, beforehand: Beforehand, *, scripts: bool) -> None:
    one = _looks_over(ward, scene, beforehand, scripts=scripts)
    one.page.get_by_role("button", name="Hand in", exact=True).dblclick()
    one.sees_heading("My reading is handed in")
    one.sees("Waiting for both readings.")
    assert list(events_of(ward.running, beforehand.check, "handed-in")) == [id_of(ward, "n.ferrow")]


@with_and_without_scripts
def test_sign(ward: Ward, scene: Scene, beforehand: Beforehand, *, scripts: bool) -> None:
    beforehand.at_stage(Phase.SIGNING)
    one = ward.nurse("n.ferrow", ward.device(scripts=scripts))
    one.look_at_check(scene.place)
    one.follow("Go on: sign")
    one.write("Id", one.who.login)
    one.write("Secret", one.who.secret)
    one.page.get_by_role("button", name="Sign this record").dblclick()
    expect(one.page.locator("main")).to_contain_text("not signed yet")
    expect(one.page.locator("main")).to_contain_text(re.compile(r"signed\s+[0-9]+ [A-Z][a-z]+ 20"))
    one.look_at_check(scene.place)
    one.follow("Go on: sign")
    one.sees("not signed yet")
    assert list(events_of(ward.running, beforehand.check, "signed")) == [id_of(ward, "n.ferrow")]


@with_and_without_scripts
@pytest.mark.usefixtures("quick_pdf")
def test_start(ward: Ward, scene: Scene, beforehand: Beforehand, *, scripts: bool) -> None:
    beforehand.at_stage(Phase.CLEARED)
    nurses = [ward.nurse(login, ward.device(scripts=scripts)) for login in LOGINS]
    for nurse in nurses:
        nurse.look_at_check(scene.place)
        nurse.follow("Ready to start: last look")
        nurse.last_look()
    nurses[1].page.get_by_role("button", name="Started: the infusion runs").dblclick()
    nurses[1].sees_heading("The record of this check")
    assert list(events_of(ward.running, beforehand.check, "started")) == [id_of(ward, "t.osmund")]


def test_back_and_another_value_after_handing_in(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    one = _looks_over(ward, scene, beforehand)
    reading = one.page.url
    one.hand_in()
    # To the page as it was, by its address: the form is gone, and so is every way to send another value.
    one.go(f"{reading.removeprefix(ward.running.address)}/device")
    one.sees_heading("My reading is handed in")


def test_a_form_kept_from_before_the_hand_in_changes_nothing(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    one = _looks_over(ward, scene, beforehand)
    one.page.get_by_role("link", name="Back to Device").click()
    one.write_source({"lockout": "17.39 min"})
    left_open = one.page
    one.device.second_tab(f"{ward.running.address}/check/{beforehand.check}/read")
    one.hand_in()
    one.device.page = left_open
    one.press("Keep, and go over it")
    one.sees_heading("My reading is handed in")
    beforehand.drafts(beforehand.who("t.osmund"), scene.quiet)
    other = ward.nurse("t.osmund")
    other.look_at_check(scene.place)
    other.hand_in()
    other.comes_to_the_comparison()
    other.sees_heading("Order, label and device agree")
    absent(["17.39"], other.device)


def test_two_tabs_of_one_nurse_with_different_values(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.READING)
    one = ward.nurse("n.ferrow")
    one.look_at_check(scene.place)
    first_tab, address = one.page, one.page.url
    one.device.second_tab(address)
    second_tab = one.page
    one.write_source({"identifier": "INVENTED-2417"})
    one.press("Keep, and go on: Chart")
    one.device.page = first_tab
    one.write_source({"identifier": "INVENTED-9999"})
    one.press("Keep, and go on: Chart")
    one.sees("You have kept this source on another page since")
    assert one.page.get_by_label("Patient identifier", exact=True).input_value() == "INVENTED-9999"
    one.follow("Show what is kept")
    assert one.page.get_by_label("Patient identifier", exact=True).input_value() == "INVENTED-2417"
    second_tab.close()


def test_two_people_for_one_place(ward: Ward, scene: Scene) -> None:
    one = ward.nurse("n.ferrow")
    code = one.open_check(scene.bed)
    second, third = ward.nurse("t.osmund"), ward.helper("r.calloway")
    second.follow("Join by code")
    second.write("Code", code)
    second.press("Find the check")
    third.look_at_check(scene.place, "Join as second")
    second.press("Join and read alone")
    third.press("Join and read alone")
    third.sees("Two people have joined this check. A third cannot.")
    assert second.source_in_front is Source.WRISTBAND


def test_a_session_that_has_ended_keeps_the_draft_for_its_own_person(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.READING)
    one = ward.nurse("n.ferrow")
    one.look_at_check(scene.place)
    one.read_source({"identifier": "ZQX-7319", "birth_date": "1958-11-23"})
    one.write_source(scene.quiet["chart"])
    one.device.context.clear_cookies(name="countersign-session")
    one.press("Keep, and go on: Order")
    one.sees_heading("Sign in")
    other = ward.nurse("t.osmund", one.device)
    other.look_at_check(scene.place)
    assert other.source_in_front is Source.WRISTBAND
    assert other.page.get_by_label("Patient identifier", exact=True).input_value() == ""
    other.sign_out()
    one.sign_in()
    one.look_at_check(scene.place)
    one.sees_heading("Go over my reading")
    one.sees("ZQX-7319")


def test_without_network_nothing_is_called_done(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    one = _looks_over(ward, scene, beforehand)
    one.device.context.set_offline(offline=True)
    one.page.get_by_role("button", name="Hand in", exact=True).click()
    one.page.wait_for_url("chrome-error://**")
    assert list(events_of(ward.running, beforehand.check, "handed-in")) == []
    one.device.context.set_offline(offline=False)
    one.go("/")
    one.look_at_check(scene.place)
    one.sees_heading("Go over my reading")
    one.hand_in()
    expect(one.heading).to_have_text("My reading is handed in")
    assert len(list(events_of(ward.running, beforehand.check, "handed-in"))) == 1
