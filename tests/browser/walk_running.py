"""The walk past what is met while an infusion runs, is stopped, or has ended."""

from pathlib import Path
from typing import Protocol

from playwright.sync_api import expect

from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import PATIENCE_MS, Nurse, Person
from tests.browser.two import Two
from tests.browser.ward import Scene, Ward
from tests.story.script import Read


class Visitor(Protocol):
    """Who is shown each screen: a camera, or whoever looks for faults."""

    @property
    def folder(self) -> Path:
        """Where what is saved on the way goes."""

    def take(self, person: Person, name: str) -> None:
        """Look at the page that this person has in front."""


def while_it_runs(ward: Ward, visitor: Visitor, scene: Scene) -> None:
    """Each in its turn: at all these beds the same patient is read."""
    one = ward.nurse("n.ferrow")
    _a_stop_among_the_steps(ward, visitor, one, scene.at("23"))
    _a_re_check(ward, visitor, one, scene.at("24"))
    _two_run(ward, visitor, one, scene)
    _what_followed(ward, visitor, one, scene.at("26"))
    _a_transfer(ward, visitor, one, scene.at("27"))


def _a_stop_among_the_steps(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    before = Beforehand(running=ward.running, scene=scene).at_stage(Phase.CLEARED)
    charge = ward.person("r.calloway")
    charge.go("/stop")
    charge.write("Bed", scene.bed)
    charge.choose("For the patient, not sure which")
    charge.press("with what stands above")
    one.look_at_check(scene.place)
    visitor.take(one, "the device was stopped, before the start")
    one.follow("Go on: safety steps")
    visitor.take(one, "steps, observed anew after a stop")
    before.abandons()


def _a_re_check(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    Beforehand(running=ward.running, scene=scene).at_stage(Phase.STARTED)
    pair = Two(one=one, other=ward.nurse("t.osmund"), scene=scene)
    pair.re_checks()
    pair.both_hand_in(Read.SET_OTHERWISE)
    one.look_at_check(scene.place)
    visitor.take(one, "re-check, act now")
    one.press("This check leads to a settings change")
    visitor.take(one, "re-check, led to a settings change")


def _two_run(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    """The stop at one bed was of another, and the patient got the next infusion meanwhile."""
    _writes_down_a_stop(one, "24")
    written = one.page.url.removeprefix(one.address)
    next_one = Beforehand(running=ward.running, scene=scene.at("25")).at_stage(Phase.STARTED)
    one.go(written)
    one.press("It was another bed")
    visitor.take(one, "two infusions run")
    one.follow("To the lists")
    visitor.take(one, "my checks, two infusions run")
    next_one.stops()
    _writes_down_a_stop(one, "24")


def _writes_down_a_stop(person: Person, bed: str) -> None:
    person.go("/stop")
    person.write("Bed", bed)
    with person.page.expect_navigation():
        person.page.get_by_role("button", name="The device was stopped").first.click()


def _what_followed(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    before = Beforehand(running=ward.running, scene=scene).at_stage(Phase.LAPSED).abandons()
    path = f"/check/{before.check}/record"
    one.go(path)
    wait_for_what_followed(one)
    visitor.take(one, "record, with what followed")


def _a_transfer(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    """A nurse of the recovery room takes the patient, and the unit that was left is told."""
    before = Beforehand(running=ward.running, scene=scene).at_stage(Phase.STARTED)
    receiver = ward.nurse("i.bexley")
    receiver.go("/")
    receiver.follow("Take a patient from another unit")
    receiver.press("I take this patient")
    visitor.take(receiver, "a patient from another unit, faults")
    receiver.page.get_by_label("From unit").select_option(one.who.unit)
    receiver.write("From bed", scene.bed)
    receiver.write("To bed", "3")
    receiver.press("I take this patient")
    visitor.take(receiver, "taken from another unit")
    one.go("/")
    one.sees("Taken from", "Recovery room")
    visitor.take(one, "my checks, a patient was taken to another unit")
    before.stops()


def wait_for_what_followed(person: Person) -> None:
    """The sweeper of the demonstration tells it within seconds; the record is in front."""
    link = person.page.get_by_role("link", name="Save what followed the record as PDF")
    for _ in range(PATIENCE_MS // 500):
        if link.count():
            return
        person.page.wait_for_timeout(500)
        person.page.reload()
    expect(link).to_be_visible()


def typing_in(visitor: Visitor, one: Person) -> None:
    """What was checked on paper is typed in."""
    one.follow("It was checked on paper")
    one.follow("Type both sheets in")
    one.write("Name on sheet 1", "Nadia Ferrow")
    one.write("Name on sheet 2", "Tomas Osmund")
    one.page.locator("#field-order-drug-2").fill("morphine")
    one.press("Keep it for another nurse to confirm")
    visitor.take(one, "both sheets typed in, faults")
    one.write("When", "11:30")
    one.page.locator("#field-order-drug").fill("HYDROmorphone")
    one.press("Keep it for another nurse to confirm")
    visitor.take(one, "checked on paper, typed in")


def holding_beside(visitor: Visitor, charge: Person) -> None:
    """Another holds it beside the sheets."""
    charge.go("/")
    charge.follow("What was checked on paper")
    visitor.take(charge, "checked on paper, to be held beside the sheets")
    charge.press("It is what the sheets say")
    visitor.take(charge, "checked on paper")
    charge.go("/")
    visitor.take(charge, "my checks, checked on paper")
