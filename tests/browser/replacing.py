"""A wrong syringe that is replaced, and what was left of it."""

from collections.abc import Callable

from app.cli.demo_site import Demonstrator
from app.records.state import Phase
from tests.browser.beforehand import LOGINS, Beforehand
from tests.browser.people import Nurse, Person
from tests.browser.ward import Scene, Ward


def with_another_syringe(before: Beforehand) -> Beforehand:
    """The line was primed from a wrong syringe, which was replaced; then both read the same."""
    scene = before.scene
    weaker = scene.right_but(chart={"sedatives": "none"}, label={"amount": "6 mg"})
    before.at_stage(Phase.READING).does(before.first, "set-primed").both_read(weaker).compares()
    before.reads_again(before.first, "label").both_read(scene.quiet).compares()
    return before


def takes_back(nurse: Nurse, in_syringe: str, in_line: str, *, witness: Demonstrator) -> None:
    """Write down what was left of it; the witness gives id and secret."""
    nurse.write("Left in the old syringe", in_syringe)
    nurse.write("Held in the old line", in_line)
    nurse.write("Lot of the old syringe", "DM-INV-6")
    nurse.choose("Wasted")
    nurse.write("Id", witness.login)
    nurse.write("Secret", witness.secret)
    nurse.press("Write it down, with the witness")


def replace_a_syringe(
    ward: Ward, take: Callable[[Person, str], None], scene: Scene, *, danger: Scene
) -> None:
    """Past the steps and the page on which it is written down, and where danger was seen in the label."""
    with_another_syringe(Beforehand(running=ward.running, scene=scene))
    one = _at_the_steps(ward, scene)
    take(one, "steps, a syringe was replaced")
    one.follow("Write down what was taken back")
    take(one, "drug taken back")
    one.write("Left in the old syringe", "27,7")
    one.press("Write it down")
    take(one, "drug taken back, faults")
    takes_back(one, "27.7", "2.3", witness=ward.running.person("i.bexley"))
    take(one, "steps, what was taken back is written")
    one.follow("Written wrongly")
    take(one, "drug taken back, to be put right")
    before = Beforehand(running=ward.running, scene=danger).at_stage(Phase.READING)
    before.saying_danger(before.second, "label")
    before.both_read(danger.quiet).compares()
    take(_at_the_steps(ward, danger), "steps, danger was seen in the label")


def _at_the_steps(ward: Ward, scene: Scene) -> Nurse:
    one = ward.nurse(LOGINS[0])
    one.look_at_check(scene.place)
    one.follow("Go on: safety steps")
    return one
