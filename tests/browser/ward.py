"""The ward of the browser tests: a demonstration, its devices and its people, and what there is to read."""

import json
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TypeVar

from playwright.sync_api import Browser

from app.cli.demo_site import SEED, Demonstration
from app.cli.installation import now
from app.records.reading import Answers
from tests.browser.devices import Device, device
from tests.browser.people import Helper, Nurse, Person
from tests.story.script import Read
from tests.support.policies import ALSO_READ, publish_policy

Anybody = TypeVar("Anybody", bound=Person)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What there is to read at the bed: the scene of the demonstration's own walk."""

    bed: str
    right: Answers
    wrong: Answers
    baseline: dict[str, str]
    primed: str

    @property
    def place(self) -> str:
        """The check's place as lists call it."""
        return f"Ward 4 East, bed\N{NO-BREAK SPACE}{self.bed}"

    def at(self, bed: str) -> "Scene":
        """The same at another bed."""
        return replace(self, bed=bed)

    @property
    def quiet(self) -> Answers:
        """What there is to read, where nothing needs to be considered."""
        return self.right_but(chart={"sedatives": "none"})

    def that_comes_to(self, read: Read) -> tuple[Answers, Answers]:
        """What the two read so that this comes of it."""
        match read:
            case Read.ALIKE:
                return self.quiet, self.quiet
            case Read.APART:
                return self.quiet, self.right_but(chart={"sedatives": "none"}, device={"demand_dose": "2 mg"})
            case Read.SET_OTHERWISE:
                return (self.right_but(device={"demand_dose": "2 mg"}),) * 2
            case Read.TO_CONSIDER:
                return self.right, self.right

    def right_but(self, **sources: dict[str, str]) -> Answers:
        """What there is to read, with other answers in some fields."""
        return {name: {**given, **sources.get(name, {})} for name, given in self.right.items()}


def read_scene() -> Scene:
    """The scene of `seed_data/walk.json`: the device believes another concentration than the syringe has."""
    told = json.loads((SEED / "walk.json").read_text(encoding="utf-8"))
    right = {name: told[name] for name in ("wristband", "chart", "order", "label", "device", "monitor")}
    # Of what runs: nothing was given yet, and the line was primed.
    right["totals"] = {
        "total_amount": "0 mg",
        "total_volume": "none",
        "presses": "0",
        "doses": "0",
        "left": "27.7 mL",
    }
    return Scene(
        bed=told["bed"],
        right=right,
        wrong={**right, "device": {**told["device"], **told["device_wrong"]}},
        baseline=told["baseline"],
        primed=told["primed_volume"],
    )


@dataclass(kw_only=True)
class Ward:
    """A running demonstration and the devices on its ward."""

    running: Demonstration
    browser: Browser
    stack: ExitStack
    devices: list[Device] = field(default_factory=list)
    # Where signing in belongs to what is tested.
    signs_in_by_hand: bool = False

    def asks_for_more(self) -> None:
        """The site's policy asks for whatever a policy may ask for."""
        self.publishes(also_read=list(ALSO_READ))

    def publishes(self, **changes: object) -> None:
        """The site's policy is the seeded one but for this, from now on."""
        publish_policy(self.running.site, now(), **changes)

    def now(self) -> datetime:
        """The time that the demonstration has."""
        return now()

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
        made.patient = read_scene().right["wristband"]["identifier"]
        if self.signs_in_by_hand:
            made.sign_in()
        else:
            made.is_signed_in()
        return made

    def two(self, *, scripts: bool = True) -> tuple[Nurse, Nurse]:
        """Two nurses at two devices."""
        one, other = self.device(scripts=scripts), self.device(scripts=scripts)
        return self.nurse("n.ferrow", one), self.nurse("t.osmund", other)
