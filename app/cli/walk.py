"""A whole set-up over real HTTP: two people, one error, caught; each page is read and its form posted."""

import json
import re
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.cli.demo_site import SEED, Demonstration, Demonstrator
from app.cli.invented import completed
from app.cli.walk_browser import Browser, Page
from app.records.fields import FIELDS
from app.records.sources import CAN_BE_PUT_RIGHT, Field, Form, Source
from app.records.steps import DONE, VERIFIED

PATIENCE_SECONDS = 60
_STOP = "DO NOT START"
_MOST_TURNS = 60
# Of the two the one does each step, and the other verifies it.
_PARTS = (DONE, VERIFIED)


class WalkFailed(Exception):  # noqa: N818  # named for what happened
    """A page was not what it should have been."""


Say = Callable[[str], None]


class Nurse:
    """One person at a browser of their own."""

    def __init__(self, address: str, who: Demonstrator, say: Say) -> None:
        """Sit down at a browser without cookies."""
        self.who, self._say = who, say
        self.browser = Browser(address)
        self.page = self.browser.get("/sign-in")

    def say(self, words: str) -> None:
        """Print one step."""
        self._say(f"{self.who.printed_name:<16} {words}")

    def open(self, path: str) -> Page:
        """Go to a page."""
        self.page = self._expect(self.browser.get(path))
        return self.page

    def press(self, words: str, **answers: str | list[str]) -> Page:
        """Press a button, with answers in its form."""
        self.page = self._expect(self.browser.submit(self.page, words, answers))
        return self.page

    def follow(self, words: str) -> Page:
        """Follow a link."""
        return self.open(self.page.link_with(words))

    def sign_in(self) -> None:
        """Sign in for a shift on the own unit."""
        self.page = self.browser.get("/sign-in")
        self.press("Sign in", login=self.who.login, secret=self.who.secret, unit=self.who.unit)
        self.say("signs in")

    def _expect(self, page: Page) -> Page:
        if page.status >= 400:  # noqa: PLR2004  # the first of the refusals
            message = f"{self.who.printed_name}: {page.url} answered {page.status}: {page.text[:600]}"
            raise WalkFailed(message)
        return page

    def read(
        self, check: str, answers: Mapping[str, Mapping[str, str]], *, asked: tuple[Source, ...]
    ) -> None:
        """Fill in each source that is asked for, look the reading over, and hand it in."""
        self.open(f"/check/{check}/read")
        for source in asked:
            self.press("Keep, and", **posted(source, completed(source, answers[source.value])))
            self.say(f"has read the {source.value}")
        self.press("Hand in")
        self.say("hands in")


def posted(source: Source, answers: Mapping[str, str]) -> dict[str, str | list[str]]:
    """One source's answers as its form takes them: number and unit apart, none as a box of its own."""
    made: dict[str, str | list[str]] = {}
    for each in FIELDS[source]:
        if each.name in answers:
            made |= _posted(each, answers[each.name])
    return made


def _posted(each: Field, answer: str) -> dict[str, str]:
    if answer == "none" and each.may_be_none:
        return {f"{each.name}_none": "on"}
    if each.form is not Form.QUANTITY:
        return {each.name: answer}
    number, _, unit = answer.partition(" ")
    return {each.name: number} | ({f"{each.name}_unit": unit} if len(each.units) > 1 else {})


def walk_through(running: Demonstration, *, say: Say) -> str:
    """Play the set-up, and return its check; WalkFailed names the page that was otherwise."""
    scene = json.loads((SEED / "walk.json").read_text(encoding="utf-8"))
    say(f"server at {running.address}")
    one = Nurse(running.address, running.person("n.ferrow"), say)
    other = Nurse(running.address, running.person("t.osmund"), say)
    try:
        check = set_up((one, other), scene, say)
        _wait_for_pdf(one, check, say)
    except LookupError as missing:
        raise WalkFailed(str(missing)) from missing
    return check


def set_up(both: tuple[Nurse, Nurse], scene: dict[str, Any], say: Say) -> str:
    """From an empty screen to a running infusion; the id of the check."""
    one, other = both
    check = _begin(one, other, scene)
    wrong = {**scene, "device": {**scene["device"], **scene["device_wrong"]}}
    for nurse in both:
        nurse.read(check, wrong, asked=CAN_BE_PUT_RIGHT)
    _catch(one, check, scene)
    for nurse in both:
        nurse.read(check, scene, asked=(Source.DEVICE,))
    say("the two readings agree with order and label")
    for nurse in both:
        _consider(nurse, check, scene)
    _take_steps(both, check, scene)
    _sign(both, check)
    for nurse in both:
        nurse.open(f"/check/{check}/start")
        nurse.press("The device shows exactly this")
        nurse.say("takes a last look at the device: it shows exactly what was agreed")
    one.open(f"/check/{check}/start")
    one.press("Started: the infusion runs")
    one.say("starts the infusion")
    return check


def _sign(both: tuple[Nurse, Nurse], check: str) -> None:
    for nurse in both:
        nurse.open(f"/check/{check}/sign")
        nurse.press("Sign this record", login=nurse.who.login, secret=nurse.who.secret)
        nurse.say("signs with id and secret")


def _begin(one: Nurse, other: Nurse, scene: dict[str, Any]) -> str:
    one.sign_in()
    one.open("/open")
    one.press("Open the check", unit=one.who.unit, bed=scene["bed"])
    one.say(f"opens a check for bed {scene['bed']}")
    return _joined(one, other)


def _joined(one: Nurse, other: Nurse) -> str:
    """The check that one has opened, once the other has joined it by its code."""
    check = re.search(r"/check/([0-9a-f]+)", one.page.link_with("Begin my reading"))
    code = re.search(r"code to your colleague ([A-Z0-9]{3} ?[A-Z0-9]{3})", one.page.text)
    if check is None or code is None:
        raise WalkFailed(f"no check or code on {one.page.url}: {one.page.text[:300]}")
    other.sign_in()
    other.open("/join")
    other.press("Find the check", code=code[1])
    other.press("Join and read alone")
    other.say("joins by the code on another device")
    return check[1]


def _catch(nurse: Nurse, check: str, scene: dict[str, Any]) -> None:
    """The comparison must say what was wrong; then the device is put right."""
    nurse.open(f"/check/{check}")
    if _STOP not in nurse.page.text or scene["caught"] not in nurse.page.text:
        raise WalkFailed(f"the wrong setting was not caught: {nurse.page.text[:800]}")
    nurse.say(f"sees {_STOP}: the wrong concentration is caught before it reaches the patient")
    nurse.press("read the device again")
    nurse.say("has put the device right: both read all of it again")


def _consider(nurse: Nurse, check: str, scene: dict[str, Any]) -> None:
    """Answer each group of cautions, with the reason that the scene gives and the name it asks for."""
    nurse.open(f"/check/{check}")
    while nurse.page.has_button("I have considered"):
        nurse.press("I have considered", **scene["caution"])
        nurse.say("has considered what is to be considered together and says why it may go on")


def _take_steps(both: tuple[Nurse, Nurse], check: str, scene: dict[str, Any]) -> None:
    """The first does, the second verifies each group, until nothing is left to confirm."""
    to_write = _ToWrite(
        baseline=iter([scene["baseline"]]),
        volumes=iter([scene["primed_volume"]]),
        patient=iter([scene["wristband"]["identifier"]]),
    )
    for _ in range(_MOST_TURNS):
        turns = [_take_turn(nurse, check, part, to_write) for nurse, part in zip(both, _PARTS, strict=True)]
        if not any(turns):
            return
    raise WalkFailed("the safety steps do not come to an end")


@dataclass(frozen=True, kw_only=True)
class _ToWrite:
    """What the scene gives to be written down with the steps, each once."""

    baseline: Iterator[dict[str, str]]
    volumes: Iterator[str]
    patient: Iterator[str]

    def given(self, asked: set[str]) -> dict[str, str]:
        """What of it a form asks for and has not been given yet."""
        observed = next(self.baseline, {}) if "spo2" in asked else {}
        volume = next(self.volumes, "") if "volume" in asked else ""
        patient = next(self.patient, "") if "patient" in asked else ""
        return observed | ({"volume": volume} if volume else {}) | ({"patient": patient} if patient else {})


def _take_turn(nurse: Nurse, check: str, part: str, to_write: _ToWrite) -> bool:
    """Whatever this nurse does about the steps in this part of them; whether that was anything."""
    words = "what is ticked"
    page = nurse.open(f"/check/{check}/steps")
    if not page.has_button(words):
        return False
    form, _ = page.form_with(words)
    ticked = {part: form.choices[part]} if part in form.choices else {}
    written = to_write.given({name for name, _ in form.held})
    if not ticked and not written:
        return False
    nurse.press(words, **ticked, **written)
    if "spo2" in written:
        nurse.say("writes down sedation, breathing and saturation before any dose")
    if "volume" in written:
        nurse.say("reads the primed volume, which is held against what the line set holds")
    if "patient" in written:
        nurse.say("reads the wristband at the patient, before anything is connected")
    if ticked:
        nurse.say(f"{part}: {len(ticked[part])} safety steps")
    return True


def _wait_for_pdf(nurse: Nurse, check: str, say: Say) -> None:
    """Wait until the record is made."""
    for _ in range(PATIENCE_SECONDS):
        page = nurse.browser.get(f"/check/{check}/record.pdf")
        if page.content.startswith(b"%PDF-"):
            say(f"the signed record is sealed, and its page gives it: {len(page.content)} bytes")
            return
        time.sleep(1)
    raise WalkFailed("the record's PDF was not made in time")
