"""The end of PCA as two nurses and a witness meet it: told once, for the test and for pictures."""

from app.cli.demo_site import Demonstrator
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import Nurse
from tests.browser.two import Two
from tests.browser.ward import Scene, Ward

LOT = "DM-INV-30"


def at_its_end(ward: Ward, scene: Scene) -> Two:
    """It was started, was stopped for good, and both have read; one has the steps in front."""
    before = Beforehand(running=ward.running, scene=scene).at_stage(Phase.STARTED)
    before.stops(why="end-of-therapy")
    pair = Two(one=ward.nurse("n.ferrow"), other=ward.nurse("t.osmund"), scene=scene)
    pair.ends()
    for nurse in pair.both:
        nurse.look_at_check(scene.place)
        nurse.read_and_hand_in(scene.quiet)
    return pair


def is_off_the_patient(pair: Two) -> None:
    """One says so, the other verifies it."""
    for nurse in pair.both:
        nurse.look_at_check(pair.scene.place)
        nurse.follow("Go on: safety steps")
        nurse.tick("line is clamped and off the patient")
        nurse.press("what is ticked")


def reads_what_is_left(nurse: Nurse, volume: str, *, lot: str) -> None:
    """The nurse reads it first."""
    nurse.write("Left in the syringe", volume)
    nurse.write("Lot of the syringe", lot)
    nurse.choose("Wasted")
    nurse.press("Now the witness reads")


def sees_it_go(nurse: Nurse, volume: str, *, witness: Demonstrator) -> None:
    """At the nurse's screen the witness reads it too, and has seen it go."""
    nurse.write("Left in the syringe, as you read it", volume)
    nurse.write("Id", witness.login)
    nurse.write("Secret", witness.secret)
    nurse.press("I saw it")
