"""The walk past what is done to an infusion that runs, in a hurry or not, outside of its checks."""

from dataclasses import replace

from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import Nurse, Person
from tests.browser.two import two
from tests.browser.walk_running import Visitor
from tests.browser.ward import Scene, Ward

# What the order lets staff give.
_BY_STAFF = {
    "staff_bolus_dose": "0.4 mg",
    "staff_bolus_interval": "10 min",
    "staff_bolus_most": "1.2 mg",
    "staff_bolus_window": "4 h",
}


def outside_of_checks(ward: Ward, visitor: Visitor, scene: Scene) -> None:
    """At a bed where it runs, and at one where it had to start before anybody had checked it."""
    ordered = replace(scene.at("28"), right=scene.right_but(order=_BY_STAFF))
    before = Beforehand(running=ward.running, scene=ordered).at_stage(Phase.STARTED)
    one, charge = ward.nurse("n.ferrow"), ward.person("r.calloway")
    infusion = _infusion_at(charge, before.scene.place)
    _pages_of(visitor, one, infusion)
    other = ward.nurse("t.osmund")
    other.go("/")
    other.page.get_by_role("button", name=f"Handoff: {before.scene.place}").click()
    visitor.take(other, "another answers for it")
    _spilt(visitor, one, charge, infusion, lot=scene.quiet["label"]["lot"])
    _issued(visitor, one, infusion)
    _hurried(visitor, one, charge, infusion)
    _kept(visitor, one, charge, infusion)
    before.stops()
    _had_to_start(ward, visitor, scene.at("29"))


def _infusion_at(person: Person, place: str) -> str:
    """The address of the infusion's page, from the line of the list."""
    person.go("/")
    person.page.get_by_role("link", name=f"Show: {place}").click()
    return person.page.url.removeprefix(person.address)


def _pages_of(visitor: Visitor, one: Nurse, infusion: str) -> None:
    for path, name in (
        ("", "infusion, what happened"),
        ("/change", "check or change"),
        ("/bolus", "bolus given by staff"),
        ("/emergency", "in a hurry"),
    ):
        one.go(f"{infusion}{path}")
        visitor.take(one, name)
    one.go(f"{infusion}/bolus")
    one.page.locator("[name=sedation]").last.check()
    one.page.locator("[name=respiratory_rate]").fill("6")
    one.page.locator("main form button[type=submit]").first.click()
    visitor.take(one, "no bolus, outside the protocol")
    one.go("/my-infusions")
    visitor.take(one, "my infusions")


def _spilt(visitor: Visitor, one: Nurse, charge: Person, infusion: str, *, lot: str) -> None:
    """Nobody else saw it: that goes to the charge nurse."""
    one.go(f"{infusion}/waste")
    one.press("Now the witness reads")
    visitor.take(one, "waste, return or spill, faults")
    one.page.locator("[name=what][value=spilt]").check()
    one.page.locator("[name=in_syringe]").fill("2")
    one.page.locator("[name=lot]").fill(lot)
    one.press("Now the witness reads")
    visitor.take(one, "spilt, the witness reads")
    one.press("Write it down, not witnessed")
    charge.go(f"{infusion}/account/close")
    visitor.take(charge, "an account is closed")


def _issued(visitor: Visitor, one: Nurse, infusion: str) -> None:
    """The next syringe is fetched, and goes back unopened."""
    one.go(f"{infusion}/issue")
    one.press("Write it down")
    visitor.take(one, "a syringe is issued, faults")
    for name, text in (("giver", "Petra Varga"), ("receiver", "Nadia Ferrow"), ("number", "DM-INV-31")):
        one.page.locator(f"[name={name}]").fill(text)
    one.page.locator("[name=volume]").fill("30")
    one.page.locator("[name=source][value=pharmacy]").check()
    one.page.locator("[name=sealed][value=yes]").check()
    one.press("Write it down")
    visitor.take(one, "infusion, a syringe is issued")
    one.follow("It goes back unopened: DM-INV-31")
    visitor.take(one, "it goes back unopened")
    one.go("/")
    visitor.take(one, "my checks, a syringe is issued")


def _hurried(visitor: Visitor, one: Nurse, charge: Person, infusion: str) -> None:
    for what, name in (("reversal", "a reversal agent, afterwards"), ("away-mri", "away, afterwards")):
        one.go(f"{infusion}/emergency")
        one.page.locator(f"button[value={what}]").click()
        visitor.take(one, name)
    one.go(f"{infusion}/restart")
    visitor.take(one, "a prescriber decides")
    one.go(f"{infusion}/back")
    visitor.take(one, "the patient is back")
    charge.go(infusion)
    visitor.take(charge, "infusion, held")


def _kept(visitor: Visitor, one: Nurse, charge: Person, infusion: str) -> None:
    """The one seals it, and another holds it; at first she misreads the number."""
    one.go(f"{infusion}/emergency")
    one.page.locator("button[value=overdose]").click()
    visitor.take(one, "overdose is suspected, afterwards")
    for name, text in (("seal", "LK 7701"), ("holder", "Ruth Calloway, 4071"), ("place", "safe 2")):
        one.page.locator(f"[name={name}]").fill(text)
    one.press("Write it down")
    charge.go(infusion)
    visitor.take(charge, "infusion, kept as evidence")
    charge.follow("I hold it: confirm that")
    visitor.take(charge, "I hold it")
    charge.write("Number on the seal", "LK 7710")
    charge.press("I hold it, and this is its seal")
    visitor.take(charge, "I hold it, another number")
    charge.go("/")
    visitor.take(charge, "my checks, another number on a seal")
    charge.go(f"{infusion}/evidence")
    charge.write("Number on the seal", "LK 7701")
    charge.press("I hold it, and this is its seal")
    visitor.take(charge, "infusion, evidence is held")


def _had_to_start(ward: Ward, visitor: Visitor, scene: Scene) -> None:
    pair = two(ward, scene)
    pair.opens()
    pair.one.page.get_by_role("link", name="It had to start without this check").click()
    visitor.take(pair.one, "it had to start without this check")


def placing_a_stop(visitor: Visitor, charge: Person) -> None:
    """A stop at a bed that nobody knows, told until the charge nurse says where it was."""
    charge.go("/stop")
    charge.write("Bed", "112")
    with charge.page.expect_navigation():
        charge.page.get_by_role("button", name="The device was stopped").first.click()
    charge.go("/")
    visitor.take(charge, "my checks, a stop at an unknown bed")
    charge.follow("Say where it was")
    charge.press("It was at this bed")
    visitor.take(charge, "where it was stopped, a fault")
    charge.write("Bed", "35")
    charge.press("It was at this bed")
    visitor.take(charge, "where it was stopped, said")
