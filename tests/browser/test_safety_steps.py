"""Safety steps, signatures and the last look, by two nurses whose readings agree."""

import pytest
from playwright.sync_api import expect

from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import Nurse
from tests.browser.replacing import takes_back, with_another_syringe, witnesses
from tests.browser.two import Two
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]


def at_the_steps(ward: Ward, scene: Scene) -> tuple[Nurse, Nurse]:
    one, other = ward.two()
    for nurse in (one, other):
        goes_to_the_steps(nurse, scene)
    return one, other


def goes_to_the_steps(nurse: Nurse, scene: Scene) -> None:
    nurse.look_at_check(scene.place)
    nurse.follow("Go on: safety steps")


def test_what_one_did_the_other_verifies_each_group_before_the_next(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    one, other = at_the_steps(ward, scene)
    first, second = (one, other) if beforehand.holder(1).login == one.who.login else (other, one)
    for nurse in (first, second):
        assert nurse.page.locator("[name=done]").count() == 7
        assert nurse.page.locator("[name=verified]").count() == 0
        nurse.sees("Group 2, line to the patient, monitoring: 9 steps, after the group before.")

    pair = Two(one=one, other=other, scene=scene)
    turns = [(who, ticked) for who, ticked in pair.take_the_steps() if ticked]
    doing, seeing = turns[0::2], turns[1::2]
    assert {who for who, _ in doing} == {beforehand.holder(1).login}
    assert {who for who, _ in seeing} == {beforehand.holder(2).login}
    # Group by group the second verifies as many as the first did; the baseline is observed, not ticked.
    # Nothing is connected, nor traced, before the wristband is read once more.
    assert [len(ticked) for _, ticked in doing] == [7, 6, 2, 4]
    assert [len(ticked) for _, ticked in seeing] == [9, 7, 2, 4]


def test_the_primed_volume_is_read_by_one_and_verified_by_the_other(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    one, other = at_the_steps(ward, scene)
    goes_to_the_steps(one, scene)
    one.write("Primed volume", "1.2")
    one.press("what is ticked")
    # Less than the line set in use holds: the air would come first.
    one.sees("1.2 mL ran out at priming, and the line set in use holds 2.3 mL.")
    one.write("Primed volume", "2.41")
    one.press("what is ticked")
    goes_to_the_steps(other, scene)
    other.sees("Written: 2.41 mL ran out, with 2.41 mg of drug.")
    other.page.get_by_role("checkbox", name="The device shows the volume that is written.").check()
    other.press("what is ticked")
    other.sees("done and verified")


def test_what_was_taken_back_is_written_with_a_witness_and_verified_by_the_other_and_put_right(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    witness = ward.running.person("i.bexley")
    with_another_syringe(beforehand)
    one, other = at_the_steps(ward, scene)

    one.follow("Write down what was taken back")
    one.sees("The primed line still holds 0.46 mg of the old HYDROmorphone.")
    takes_back(one, "27.7", "23", witness=one.who)
    # Whoever writes it is no witness; what was written stays, the secret does not.
    one.sees("Whoever writes it is no witness of it.")
    expect(one.page.get_by_label("Held in the old line, as you read it")).to_have_value("23")
    expect(one.page.get_by_label("Secret", exact=True)).to_have_value("")
    witnesses(one, "27.7", "23", witness=witness)
    goes_to_the_steps(other, scene)
    other.sees("27.7 mL in the syringe that was replaced: wasted, witnessed by Imogen Bexley. Lot DM-INV-6.")
    other.tick("The old syringe is off the device")
    other.press("what is ticked")
    other.sees("done and verified")

    # It was 2.3.
    one.look_at_check(scene.place)
    one.follow("Put it right")
    one.sees("What you write now counts instead; both stay on the record.")
    takes_back(one, "27.7", "2.3", witness=witness)
    other.look_at_check(scene.place)
    other.page.get_by_text("Written before that").click()
    other.sees("23 mL in its line: wasted, witnessed by Imogen Bexley. Lot DM-INV-6. Counts no longer")
    other.follow("Go on: safety steps")
    other.sees("2.3 mL in its line: wasted")
    other.does_not_see("done and verified")
    other.tick("The old syringe is off the device")
    other.press("what is ticked")
    other.sees("done and verified")


def test_observed_below_the_protocol_stops_the_start(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    first = ward.nurse(beforehand.holder(1).login)
    first.look_at_check(scene.place)
    first.follow("Go on: safety steps")
    first.write_down({**scene.baseline, "respiratory_rate": "7"}, "2.3")
    first.press("what is ticked")
    first.sees("DO NOT START", "What was observed before any dose is outside the protocol.")


def test_both_confirm_on_one_screen_with_credentials_of_their_own(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.compared(scene.right)
    one = ward.nurse("n.ferrow")
    other = ward.running.person("t.osmund")
    one.look_at_check(scene.place)
    one.acknowledge_all("The prescriber was asked", asked="Dr Holm (invented)")
    one.follow(f"{other.printed_name}, ")
    one.tick("The prescriber was asked")
    one.write("Who was asked", "Dr Holm (invented)")
    one.write("Id", other.login)
    one.write("Secret", one.who.secret)
    one.press("I have considered")
    one.sees("Nothing was confirmed.")
    assert one.page.get_by_label("Who was asked").input_value() == "Dr Holm (invented)"
    assert one.page.get_by_label("Secret").input_value() == ""
    one.write("Secret", other.secret)
    one.press("I have considered")
    one.sees("Answered by the", "Go on: safety steps")


def test_a_last_look_that_differs_takes_the_clearance_away(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.CLEARED)
    one, other = ward.two()
    other.look_at_check(scene.place)
    other.follow("Ready to start: last look")
    other.last_look(same=False)
    other.sees("No longer ready to start")
    other.press("Read the device again")
    assert other.source_in_front is Source.DEVICE
    one.look_at_check(scene.place)
    assert one.source_in_front is Source.DEVICE
