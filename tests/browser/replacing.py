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
    """The nurse reads what was left of it, then the witness does, and gives id and secret."""
    nurse.write("Left in the old syringe", in_syringe)
    nurse.write("Held in the old line", in_line)
    nurse.write("Lot of the old syringe", "DM-INV-6")
    nurse.choose("Wasted")
    nurse.press("Now the witness reads")
    witnesses(nurse, in_syringe, in_line, witness=witness)


def witnesses(nurse: Nurse, in_syringe: str, in_line: str, *, witness: Demonstrator) -> None:
    """At the nurse's screen the witness reads it too."""
    nurse.write("Left in the syringe, as you read it", in_syringe)
    nurse.write("Held in the old line, as you read it", in_line)
    nurse.write("Id", witness.login)
    nurse.write("Secret", witness.secret)
    nurse.press("I saw it")


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
    one.press("Now the witness reads")
    take(one, "drug taken back, faults")
    witness = ward.running.person("i.bexley")
    takes_back(one, "27.7", "2.3", witness=witness)
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
