"""The readings and the witnessed waste of an end of PCA by keys: what they cost beside what no page saves."""

from datetime import UTC, datetime, timedelta

import pytest

from app.cli.demo_site import Demonstrator
from app.records.kinds import END_OF_PCA
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.expert import Expert
from tests.browser.floor import CHOSEN, Floor, reading_floor, safety_floor, written
from tests.browser.keystrokes import Counts, Event
from tests.browser.test_keystrokes import Played, an_expert, asked_in
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
# Of reading alone; the aim of each other kind leaves more.
_AIM = 1.1
# Of reading, of the witness and of what both confirm.
_AIM_OF_WASTE = 1.25


@pytest.mark.usefixtures("quick_pdf")
def test_the_readings_and_the_waste_of_an_end_cost_little_more_than_reading(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STARTED).stops(why="end-of-therapy")
    reads = asked_in(END_OF_PCA, scene.quiet)
    (first, of_first), (second, of_second) = an_expert(ward, "n.ferrow"), an_expert(ward, "t.osmund")
    for nurse in (first, second):
        nurse.page.clock.install(time=_BEGAN)
        nurse.page.clock.pause_at(_BEGAN + timedelta(seconds=1))
    first.sign_in()
    first.press_at(f"End of PCA: {scene.place}", kind="button")
    first.press_at("Begin my reading")
    first.read(reads, kind=END_OF_PCA)
    second.sign_in()
    second.join(scene.place)
    second.read(reads, kind=END_OF_PCA)

    readings = [*of_first], [*of_second]
    second.press_at("Go on: safety steps")
    second.take_steps(scene.baseline, scene.primed)
    of_second.clear()
    lot, left, witness = scene.quiet["label"]["lot"], "27.5", ward.running.person("i.bexley")
    _wastes(second, lot, left, witness)
    _costs_little(
        "The witnessed waste",
        of_second,
        {"taken-back": _nurses_floor(lot, left) + _witness_floor(left, witness)},
    )

    for nurse, events in ((first, readings[0]), (second, readings[1])):
        played = Played(
            who=f"End of PCA, readings, {nurse.who.printed_name}",
            events=events,
            reading=reading_floor(reads, nurse.who.login, nurse.who.secret),
            safety=safety_floor(0, [], starts=False),
        )
        print(f"\n{played.table()}")
        assert played.ratios[0] <= _AIM


def _wastes(nurse: Expert, lot: str, left: str, witness: Demonstrator) -> None:
    """One reads what is left; at the same screen the witness reads it too, and has seen it go."""
    nurse.press_at("Read what is left, with a witness")
    nurse.write("in_syringe", left)
    nurse.write("lot", lot)
    nurse.pick("way", "wasted")
    nurse.go_on()
    nurse.sees_heading("The witness reads")
    nurse.write("in_syringe", left)
    nurse.write("login", witness.login)
    nurse.write("secret", witness.secret)
    nurse.go_on()
    nurse.sees("27.5 mL left in the syringe: wasted, witnessed by Imogen Bexley")


def _nurses_floor(lot: str, left: str) -> Counts:
    """Volume, lot and what becomes of it."""
    return written(left) + written(lot) + CHOSEN


def _witness_floor(left: str, witness: Demonstrator) -> Counts:
    """The volume once more, blind, and who that is."""
    return written(left) + written(witness.login) + written(witness.secret)


def _costs_little(who: str, events: list[Event], reading: Floor) -> None:
    # The way to it; and a thought each: that the reading is locked before the witness reads,
    # and that it was seen to go.
    safety = {"steps": CHOSEN, "taken-back": Counts(m=2)}
    played = Played(who=who, events=events, reading=reading, safety=safety)
    print(f"\n{played.table()}")
    assert played.ratios[1] <= _AIM_OF_WASTE
