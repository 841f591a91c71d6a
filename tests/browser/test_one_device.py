"""Two nurses one after the other at one device: each signs in anew; what differs is read again by each."""

import re

import pytest

from app.records.reading import WHOLE, sources_in
from app.records.sources import Source
from tests.browser.devices import absent
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

# What only the first reads: unlike anything else on any page.
CANARY = {"label": {"lot": "ZQX-7319"}, "device": {"lockout": "17.39 min"}}


@pytest.fixture(autouse=True)
def _each_signs_in_by_hand(ward: Ward) -> None:
    ward.signs_in_by_hand = True


def test_readings_that_differ_are_read_again_by_each_alone(ward: Ward, scene: Scene) -> None:
    tablet = ward.device()
    one = ward.nurse("n.ferrow", tablet)
    one.open_check(scene.bed)
    one.begin_reading()
    one.read({name: {**given, **CANARY.get(name, {})} for name, given in scene.quiet.items()})
    one.hand_in_and_hand_over()
    others = len(tablet.shown)
    other = ward.nurse("t.osmund", tablet)
    other.join_from_the_list(scene.place)
    assert other.read_and_hand_in(scene.quiet) == sources_in(WHOLE)
    other.comes_to_the_comparison()
    _sees_only_field_and_source(other)
    other.read_these_again()
    assert other.read(scene.quiet) == (Source.LABEL, Source.DEVICE)
    other.hand_in_and_hand_over()
    absent(["ZQX", "7319", "17.39"], tablet, since=others)
    one = ward.nurse("n.ferrow", tablet)
    one.look_at_check(scene.place)
    assert one.source_in_front is Source.LABEL
    assert one.page.get_by_role("group").filter(has=one.page.get_by_role("textbox")).count() == 1
    one.read_and_hand_in(scene.quiet)
    one.comes_to_the_comparison()
    one.sees_heading("Order, label and device agree")


def _sees_only_field_and_source(nurse: Nurse) -> None:
    nurse.sees_do_not_start("Your two readings do not come together yet")
    sources = nurse.page.get_by_role("term").all_inner_texts()
    fields = nurse.page.get_by_role("definition").all_inner_texts()
    assert [" ".join(each.split()) for each in sources] == ["Label", "Device"]
    assert [" ".join(each.split()) for each in fields] == ["Lot", "Lockout"]
    # No number at all but the bed's, and no drug.
    said = nurse.page.locator("main").inner_text()
    assert not re.search(r"[0-9]|mg|HYDRO", said), said


def test_at_one_device_the_second_signs_in_anew(ward: Ward, scene: Scene) -> None:
    tablet, clone = ward.device(), ward.device()
    # Two browsers that say they are one device, as after copying a profile.
    tablet.page.goto(f"{ward.running.address}/sign-in")
    clone.bring(tablet.context.cookies())
    other = ward.nurse("t.osmund", clone)
    one = ward.nurse("n.ferrow", tablet)
    code = one.open_check(scene.bed)
    one.begin_reading()
    other.join_by_code(code)
    one.read_and_hand_in(scene.quiet)
    other.look_at_check(scene.place)
    other.sees_heading("Sign in anew, then read")
    absent(["INVENTED-2417", "30 mg"], clone)
    other.press("Sign out, and sign in again")
    other.sign_in()
    other.look_at_check(scene.place)
    assert other.source_in_front is Source.WRISTBAND
    other.read_and_hand_in(scene.quiet)


def test_a_device_holds_one_session(ward: Ward, scene: Scene) -> None:
    tablet = ward.device()
    one = ward.nurse("n.ferrow", tablet)
    one.open_check(scene.bed)
    one.begin_reading()
    one.write_source(scene.right["wristband"])
    reading = tablet.page
    tablet.second_tab(f"{ward.running.address}/sign-in")
    ward.nurse("t.osmund", tablet)
    # The first's tab still stands there; its next press brings nobody's page but the second's own.
    tablet.page = reading
    tablet.may_be_refused.add(400)
    one.page.get_by_role("button", name=re.compile("^Keep, and go on")).click()
    one.does_not_see("INVENTED-2417", "Nadia Ferrow")
    one.page.goto(f"{ward.running.address}/")
    one.sees("Tomas Osmund")
