"""Help: two who cannot settle it ask; a third person, signed in alone, takes it and says what follows."""

import pytest

from app.records.sources import Source
from tests.browser.beforehand import Beforehand
from tests.browser.devices import absent
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

# Order and device agree on a lockout under the hard limit of 5 min that seed_data/library.json sets.
TOO_SHORT = {"lockout": "4 min"}


def test_after_two_rereadings_a_third_person_looks(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    misread = scene.right_but(chart={"sedatives": "none"}, device={"lockout": "17.39 min"})
    beforehand.compared(scene.quiet, misread)
    one, other = ward.two()
    one.look_at_check(scene.place)
    for _ in range(2):
        _both_read_again(one, other, scene, misread)
    other.sees("You have read these again twice.")
    assert other.page.get_by_role("button", name="Read these again").count() == 0
    other.ask_for_help("Our readings do not come together")
    other.sees("Asked for help.", "Waiting for a charge nurse or a pharmacist.")
    charge = ward.helper("r.calloway")
    charge.look_at_check(scene.place, "Show")
    charge.sees("Asked for help", "What was read is shown to nobody else")
    absent(["17.39", "HYDROmorphone", "INVENTED-2417"], charge.device)
    charge.press("Take this request for help")
    charge.sees("You have taken the request", "17.39 min", "10 min")
    charge.settle("Looked at together", "I looked at the device with both of you.")
    one.page.reload()
    _both_read(one, other, scene, scene.quiet)
    other.sees_heading("Order, label and device agree")


def _both_read_again(one: Nurse, other: Nurse, scene: Scene, misread: dict[str, dict[str, str]]) -> None:
    one.page.reload()
    one.read_these_again()
    _both_read(one, other, scene, misread)


def _both_read(one: Nurse, other: Nurse, scene: Scene, misread: dict[str, dict[str, str]]) -> None:
    assert one.read_and_hand_in(scene.quiet) == (Source.DEVICE,)
    other.look_at_check(scene.place)
    other.read_and_hand_in(misread)
    other.comes_to_the_comparison()
    one.look_at_check(scene.place)


def test_a_pharmacist_sets_one_rule_aside(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    beforehand.compared(scene.right_but(chart={"sedatives": "none"}, order=TOO_SHORT, device=TOO_SHORT))
    one = ward.nurse("n.ferrow")
    one.look_at_check(scene.place)
    one.sees_do_not_start("hard limit")
    one.ask_for_help("A rule stands against what is ordered")
    pharmacist = ward.helper("p.varga")
    pharmacist.take(scene.place)
    pharmacist.set_aside("hard limit", "The pain team wants it so for this patient.")
    pharmacist.sees("SET ASIDE")
    pharmacist.settle("Exception granted", "Set aside once.")
    one.look_at_check(scene.place)
    one.sees("SET ASIDE", "Petra Varga")
    one.does_not_see("DO NOT START")
    one.sees("Go on: safety steps")


def test_neither_of_the_two_takes_it_and_a_charge_nurse_names_the_prescriber(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.compared(scene.right_but(chart={"sedatives": "none"}, order=TOO_SHORT, device=TOO_SHORT))
    one, other = ward.two()
    one.look_at_check(scene.place)
    one.ask_for_help("A rule stands against what is ordered")
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        assert nurse.page.get_by_role("button", name="Take this request for help").count() == 0
        assert nurse.page.get_by_role("button", name="Set this rule aside once").count() == 0
    charge = ward.helper("r.calloway")
    charge.take(scene.place)
    charge.set_aside("hard limit", "The prescriber was called.")
    charge.sees("A charge nurse names the prescriber who was asked.")
    assert charge.page.get_by_label("Why it may be set aside").input_value() == "The prescriber was called."
    charge.set_aside("hard limit", "The prescriber was called.", "Dr Holm (invented)")
    charge.sees("SET ASIDE")
