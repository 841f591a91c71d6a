"""A whole set-up by keys, as fast as the pages allow: what it costs beside what no page could save."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest

from app.cli.invented import completed
from app.records.fields import FIELDS
from app.records.kinds import SET_UP, Kind
from app.records.reading import Answers
from app.records.sources import Source
from tests.browser.expert import Expert
from tests.browser.floor import Floor, reading_floor, safety_floor
from tests.browser.keystrokes import Counts, Event, count, record
from tests.browser.ward import Scene, Ward, read_scene

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

# Of the second floor: reading and what safety demands.
_AIM = 1.15
# The steps of a set-up with a carrier: the first nurse ticks all but the two that are written down, the
# second verifies all but the one that both write down.
# In the second group the wristband is read before anything is connected.
# The line is traced once it is connected: both are said with one press.
_TICKED, _VERIFIED = [(7,), (6, 2), (4,)], [9, 9, 4]

_GS = "\x1d"
_BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)


@dataclass(frozen=True, kw_only=True)
class Played:
    """What one nurse pressed, and the two floors."""

    who: str
    events: Sequence[Event]
    reading: Floor
    safety: Floor

    @property
    def ratios(self) -> tuple[float, float]:
        """The time beside that of reading alone, and beside that of reading and of what safety demands."""
        least = _milliseconds(self.reading.values())
        return (
            _milliseconds(self.screens.values()) / least,
            _milliseconds(self.screens.values()) / (least + _milliseconds(self.safety.values())),
        )

    @property
    def screens(self) -> Floor:
        """The operators of each screen."""
        return count(self.events)

    def table(self) -> str:
        """Screen by screen."""
        lines = [
            f"{'':<24}{'K':>5}{'P':>4}{'H':>4}{'M':>4}{'B':>4}{'s':>9}{'floor':>9}{'safety':>9}",
            *(self._line(screen, each) for screen, each in self.screens.items()),
            self._line("all", sum(self.screens.values(), Counts())),
        ]
        of_reading, of_all = self.ratios
        return "\n".join([self.who, *lines, f"{of_reading:.3f} of reading, {of_all:.3f} with safety", ""])

    def _line(self, screen: str, each: Counts) -> str:
        floors = [
            sum(floor.values(), Counts()) if screen == "all" else floor.get(screen, Counts())
            for floor in (self.reading, self.safety)
        ]
        seconds = "".join(f"{one.milliseconds / 1000:>9.2f}" for one in (each, *floors))
        return f"{screen:<24}{each.k:>5}{each.p:>4}{each.h:>4}{each.m:>4}{each.b:>4}{seconds}"


def _milliseconds(counts: Iterable[Counts]) -> int:
    return sum(each.milliseconds for each in counts)


def test_a_whole_set_up_costs_little_more_than_reading_and_its_safety_steps(ward: Ward, scene: Scene) -> None:
    reads = asked_in(SET_UP, scene.quiet)
    by_both = without_what_one_reads(reads)
    (first, of_first), (second, of_second) = an_expert(ward, "n.ferrow"), an_expert(ward, "t.osmund")
    _read_both((first, reads), (second, by_both), scene)
    _take_the_steps(first, second, scene)
    _sign_and_start(first, second)

    observed = [scene.baseline[name] for name in ("sedation", "respiratory_rate", "spo2")]
    by_first = [*observed, scene.primed, scene.quiet["wristband"]["identifier"]]
    by_second: list[str] = []
    of_steps = sum(map(sum, _TICKED))
    for nurse, events, answers, safety in (
        (first, of_first, reads, safety_floor(of_steps, by_first, bed=scene.bed, starts=False)),
        (second, of_second, by_both, safety_floor(sum(_VERIFIED), by_second, starts=True)),
    ):
        played = Played(
            who=nurse.who.printed_name,
            events=events,
            reading=reading_floor(answers, nurse.who.login, nurse.who.secret),
            safety=safety,
        )
        print(f"\n{played.table()}")
        assert played.ratios[1] <= _AIM
        # With ten things more to press it would be too much.
        more = [Event(screen="steps", key=" ", at=f"more {each}", is_command=True) for each in range(10)]
        assert Played(**{**vars(played), "events": [*events, *more]}).ratios[1] > _AIM


def test_a_scanner_saves_the_first_nurse_time_on_label_and_wristband(ward: Ward, scene: Scene) -> None:
    """To take it up and press its trigger counts like the pointer and its button; what it types is no key."""
    codes = {
        Source.WRISTBAND: f"]d28018950110153000123454{_GS}80191",
        Source.LABEL: f"]d20109501101530003{_GS}17311200{_GS}10DM-INV-7",
    }
    nurse, events = an_expert(ward, "n.ferrow")
    nurse.sign_in()
    took = {}
    for has_scanner, bed in ((False, "14"), (True, "15")):
        nurse.go("/")
        nurse.open_check(bed)
        for source, code in codes.items():
            events.clear()
            if has_scanner:
                events.append(Event(screen=f"read {source.value}", at="scan"))
            nurse.read_source(source, scene.quiet[source.value], scanned=code if has_scanner else "")
            took[source, has_scanner] = _milliseconds(count(events).values()) / 1000
        nurse.sees_heading("Device")

    for source in codes:
        keys, scanned = took[source, False], took[source, True]
        print(f"\n{source.value}: {keys:.2f} s by keys, {scanned:.2f} s with a scanner")
        assert scanned < keys


def an_expert(ward: Ward, login: str) -> tuple[Expert, list[Event]]:
    device, who, address = ward.device(), ward.running.person(login), ward.running.address
    # Somebody has signed in at this device before.
    device.context.add_cookies([{"name": "countersign-unit", "value": who.unit, "url": address}])
    events = record(device.context)
    expert = Expert(device, who, address)
    expert.patient = read_scene().quiet["wristband"]["identifier"]
    return expert, events


def asked_in(kind: Kind, answers: Answers) -> Answers:
    """What is asked for in a check of a kind: of a rate nothing, where the mode has no continuous part."""
    return {
        source: {
            name: text
            for name, text in completed(Source(source), answers[source], kind.also_reads).items()
            if name in answers[source] or name in kind.also_reads
            if name != "continuous_rate"
        }
        for source, _ in kind.reads
    }


def without_what_one_reads(answers: Answers) -> Answers:
    """What the second nurse is asked for: not what one of the two suffices for."""
    return {
        source: {
            each.name: given[each.name]
            for each in FIELDS[Source(source)]
            if each.name in given and not each.from_one
        }
        for source, given in answers.items()
    }


def _read_both(first: tuple[Expert, Answers], second: tuple[Expert, Answers], scene: Scene) -> None:
    (one, of_one), (other, of_other) = first, second
    for nurse in (one, other):
        # A page that waits asks when it is told to: its own second would be over before one looks.
        nurse.page.clock.install(time=_BEGAN)
        nurse.page.clock.pause_at(_BEGAN + timedelta(seconds=1))
    one.sign_in()
    one.open_check(scene.bed)
    one.read(of_one)
    other.sign_in()
    other.join(scene.place)
    other.read(of_other)
    one.is_led_on()
    for nurse in (other, one):
        nurse.press_at("Go on: safety steps")


def _take_the_steps(first: Expert, second: Expert, scene: Scene) -> None:
    for group, (ticked, verified) in enumerate(zip(_TICKED, _VERIFIED, strict=True)):
        if group:
            first.is_led_on()
        for some in ticked:
            assert first.take_steps(scene.baseline, scene.primed) == some
        second.is_led_on()
        assert second.take_steps(scene.baseline, scene.primed) == verified


def _sign_and_start(first: Expert, second: Expert) -> None:
    # Who verified the last group has the record in front of her, to be signed.
    second.sign()
    first.is_led_on()
    first.sign()
    first.press_at("The device shows exactly this", kind="button")
    second.is_led_on()
    second.press_at("The device shows exactly this", kind="button")
    second.press_at("Started: the infusion runs", kind="button")
    second.sees_heading("The record of this check")
