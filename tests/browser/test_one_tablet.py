"""Two nurses with one shared tablet: a whole clean set-up, by id and secret alone and by six digits beside.

What each way costs is counted from what was really pressed, by the keystroke-level model.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Self

import pytest
from playwright.sync_api import expect

from app.records.reading import Answers
from tests.browser.expert import Expert
from tests.browser.keystrokes import Counts, Event, count, record
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

PINS = {"n.ferrow": "739204", "t.osmund": "582046"}
# What asks for id and secret however often the tablet changes hands: two sign-ins and two signatures.
ALWAYS = 4


@dataclass(frozen=True, kw_only=True)
class Cost:
    """What was pressed for a whole set-up at one tablet."""

    events: Sequence[Event]
    # How often whoever is not signed in gave what her part asks for: with each group of steps, and to look.
    turns: int

    def given(self, name: str) -> int:
        """How often something was typed into the field of this name."""
        runs = groupby(each.at for each in self.events if each.key and each.key != "Tab")
        return sum(at == name for at, _ in runs)

    @property
    def beside_reading(self) -> Counts:
        """What was not read: signing in, handing over, steps, signing, starting."""
        screens = count(self.events).items()
        return sum((each for screen, each in screens if not screen.startswith("read ")), Counts())

    @property
    def presses(self) -> int:
        """Keys, and presses of the pointer."""
        return self.beside_reading.k + self.beside_reading.p

    def __str__(self) -> str:
        lines = [
            f"{screen:<24}{each.k:>5}{each.p:>4}{each.milliseconds / 1000:>9.2f}"
            for screen, each in count(self.events).items()
        ]
        seconds = self.beside_reading.milliseconds / 1000
        told = (
            f"id and secret {self.given('secret')} times, six digits {self.given('pin')} times; "
            f"beside reading {self.presses} presses, {seconds:.2f} s"
        )
        return "\n".join([*lines, told])


@dataclass(kw_only=True)
class AtOneTablet:
    """Two who know every page by heart, and hand one tablet to and fro."""

    first: Expert
    second: Expert
    events: list[Event]
    has_pins: bool

    @classmethod
    def at(cls, ward: Ward, *, has_pins: bool) -> Self:
        """A tablet at which somebody has signed in before."""
        tablet, address = ward.device(), ward.running.address
        one, other = (ward.running.person(login) for login in PINS)
        tablet.context.add_cookies([{"name": "countersign-unit", "value": one.unit, "url": address}])
        events = record(tablet.context)
        return cls(
            first=Expert(tablet, one, address),
            second=Expert(tablet, other, address),
            events=events,
            has_pins=has_pins,
        )

    def plays(self, bed: str, answers: Answers, scene: Scene) -> Cost:
        """A whole clean set-up, to the start."""
        one, other = self.first, self.second
        for nurse in (one, other):
            nurse.patient = answers["wristband"]["identifier"]
        one.go("/sign-in")
        one.sign_in_here(self._pin_of(one))
        one.open_check(bed)
        one.read(answers, hand_over=True)
        one.press_at("Sign in with id and secret" if self.has_pins else "Sign in")
        other.sign_in_here(self._pin_of(other))
        other.press_at("Join as second")
        other.press_at("Join and read alone", kind="button")
        other.read(answers)
        other.press_at("Go on: safety steps")
        turns = self._take_the_steps(scene)
        for nurse in (other, one):
            nurse.sign()
        other.press_at("The device shows exactly this", kind="button")
        other.press_at(f"{one.who.printed_name}, first nurse, confirms on this screen")
        self._gives(one)
        one.press_at("The device shows exactly this", kind="button")
        other.press_at("Started: the infusion runs", kind="button")
        assert other.page.url.endswith("/record"), other.words
        return Cost(events=self.events, turns=turns + 1)

    def _take_the_steps(self, scene: Scene) -> int:
        one, other, turns = self.first, self.second, 0
        while "/steps" in other.page.url:
            other.press_at(f"{one.who.printed_name}, first nurse, confirms on this screen")
            one.take_steps(scene.baseline, scene.primed, before_going_on=lambda: self._gives(one))
            other.take_steps(scene.baseline, scene.primed)
            turns += 1
        return turns

    def _pin_of(self, nurse: Expert) -> str:
        return PINS[nurse.who.login] if self.has_pins else ""

    def _gives(self, nurse: Expert) -> None:
        """What the part of somebody who is not signed in here asks for."""
        if self.has_pins:
            nurse.write("pin", PINS[nurse.who.login])
        else:
            nurse.write("login", nurse.who.login)
            nurse.write("secret", nurse.who.secret)


def _answers(scene: Scene, last_four: str) -> Answers:
    """What is asked for, of this patient: of a rate nothing, where the mode has no continuous part."""
    return {
        source: {
            name: text.replace("2417", last_four) for name, text in given.items() if name != "continuous_rate"
        }
        for source, given in scene.quiet.items()
    }


def test_one_tablet_asks_for_id_and_secret_half_as_often_with_six_digits(ward: Ward, scene: Scene) -> None:
    before = AtOneTablet.at(ward, has_pins=False).plays("12", _answers(scene, "2417"), scene)
    # Another patient at another bed: nobody gets two infusions.
    after = AtOneTablet.at(ward, has_pins=True).plays("13", _answers(scene, "3518"), scene)
    print(f"\nid and secret alone\n{before}\n\nwith six digits\n{after}")

    assert before.turns == after.turns >= ALWAYS
    assert (before.given("secret"), before.given("pin")) == (ALWAYS + before.turns, 0)
    # The digits are chosen twice.
    assert (after.given("secret"), after.given("pin")) == (ALWAYS, 2 + after.turns)
    assert after.presses < before.presses
    assert after.beside_reading.milliseconds < before.beside_reading.milliseconds


def test_a_locked_tablet_is_unlocked_by_large_digits_where_it_was_left(ward: Ward, scene: Scene) -> None:
    ward.signs_in_by_hand = True
    tablet = ward.device()
    one = ward.nurse("n.ferrow", tablet)
    one.press("Sign out")
    one.sign_in(PINS["n.ferrow"])
    one.open_check(scene.bed)
    one.begin_reading()
    one.write_source(scene.right["wristband"])
    one.press("Lock")
    one.sees_heading("This screen is free.")
    one.does_not_see("INVENTED", "Ward", "bed")
    one.follow("Nadia Ferrow")
    for digits in ("739205", PINS["n.ferrow"]):
        for digit in digits:
            key = tablet.page.get_by_role("button", name=digit, exact=True)
            box = key.bounding_box()
            assert box is not None
            # Twenty millimetres, at 96 pixels an inch.
            assert min(box["width"], box["height"]) >= 75
            key.click()
        if digits != PINS["n.ferrow"]:
            expect(tablet.page.get_by_role("alert")).to_contain_text("4 tries are left")
    one.sees_heading("Wristband")
    # What was written waits for its author.
    assert tablet.page.locator("[name='identifier']").input_value() == scene.right["wristband"]["identifier"]
    assert isinstance(one, Nurse)
