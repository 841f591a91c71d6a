"""The ward of the browser tests: a demonstration, its devices and its people, and what there is to read."""

import json
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import TypeVar

from playwright.sync_api import Browser

from app.cli.demo_site import SEED, Demonstration
from app.records.reading import Answers
from tests.browser.devices import Device, device
from tests.browser.people import Helper, Nurse, Person

Anybody = TypeVar("Anybody", bound=Person)

_MOST_TURNS = 20


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What there is to read at the bed: the scene of the demonstration's own walk."""

    bed: str
    right: Answers
    wrong: Answers
    baseline: dict[str, str]
    primed: tuple[str, str]

    @property
    def place(self) -> str:
        """The check's place as lists call it."""
        return f"Ward 4 East, bed\N{NO-BREAK SPACE}{self.bed}"

    @property
    def quiet(self) -> Answers:
        """What there is to read, where nothing needs to be considered."""
        return self.right_but(chart={"sedatives": "none"})

    def right_but(self, **sources: dict[str, str]) -> Answers:
        """What there is to read, with other answers in some fields."""
        return {name: {**given, **sources.get(name, {})} for name, given in self.right.items()}


def read_scene() -> Scene:
    """The scene of `seed_data/walk.json`: the device believes another concentration than the syringe has."""
    told = json.loads((SEED / "walk.json").read_text(encoding="utf-8"))
    right = {name: told[name] for name in ("wristband", "chart", "order", "label", "device", "monitor")}
    return Scene(
        bed=told["bed"],
        right=right,
        wrong={**right, "device": {**told["device"], **told["device_wrong"]}},
        baseline=told["baseline"],
        primed=tuple(told["primed_volume"]),
    )


@dataclass(kw_only=True)
class Ward:
    """A running demonstration and the devices on its ward."""

    running: Demonstration
    browser: Browser
    stack: ExitStack
    devices: list[Device] = field(default_factory=list)

    def device(self, *, scripts: bool = True) -> Device:
        """A device that nobody has used yet."""
        made = self.stack.enter_context(device(self.browser, scripts=scripts))
        self.devices.append(made)
        return made

    def nurse(self, login: str, at: Device | None = None) -> Nurse:
        """A nurse, signed in, at a device of the own or at this one."""
        return self._signed_in(Nurse, login, at)

    def helper(self, login: str) -> Helper:
        """A charge nurse or a pharmacist, signed in."""
        return self._signed_in(Helper, login, None)

    def person(self, login: str) -> Person:
        """Anybody, signed in."""
        return self._signed_in(Person, login, None)

    def _signed_in(self, kind: type[Anybody], login: str, at: Device | None) -> Anybody:
        made = kind(at or self.device(), self.running.person(login), self.running.address)
        made.sign_in()
        return made

    def two(self, *, scripts: bool = True) -> tuple[Nurse, Nurse]:
        """Two nurses at two devices."""
        one, other = self.device(scripts=scripts), self.device(scripts=scripts)
        return self.nurse("n.ferrow", one), self.nurse("t.osmund", other)


def open_and_join(one: Nurse, other: Nurse, scene: Scene) -> None:
    """One opens the check and begins to read, the other joins by the code."""
    code = one.open_check(scene.bed)
    one.begin_reading()
    other.join_by_code(code)


def read_both(one: Nurse, other: Nurse, scene: Scene, *readings: Answers) -> None:
    """Both read what the check asks for: the same, or each something else."""
    for nurse, answers in zip((one, other), (readings[0], readings[-1]), strict=True):
        nurse.look_at_check(scene.place)
        nurse.read_and_hand_in(answers)


def acknowledge_both(one: Nurse, other: Nurse, scene: Scene) -> None:
    """Both answer every caution."""
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.acknowledge_all("The prescriber was asked", asked="Dr Holm (invented)")


def take_the_steps(one: Nurse, other: Nurse, scene: Scene) -> list[tuple[str, list[str]]]:
    """Both in turn confirm what is open until nothing is left; who ticked what, in the order of time."""
    turns: list[tuple[str, list[str]]] = []
    for turn in range(_MOST_TURNS):
        nurse, volume = ((one, scene.primed[0]), (other, scene.primed[1]))[turn % 2]
        nurse.look_at_check(scene.place)
        go_on = nurse.page.get_by_role("link", name="Go on: safety steps")
        if not go_on.count():
            return turns
        go_on.click()
        nurse.device.look()
        turns.append((nurse.who.login, nurse.confirm_what_can_be(scene.baseline, volume)))
    raise AssertionError(turns)


def sign_both(one: Nurse, other: Nurse, scene: Scene) -> None:
    """Both sign, each at the own device."""
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.follow("Go on: sign")
        nurse.sign()


def look_and_start(one: Nurse, other: Nurse, scene: Scene) -> None:
    """Both take a last look, and the second of them starts."""
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.follow("Ready to start: last look")
        nurse.last_look()
    other.start()
