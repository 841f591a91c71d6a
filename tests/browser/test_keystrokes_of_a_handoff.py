"""A handoff and a transfer by keys, as fast as the pages allow: each part beside its floor."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from app.records.kept import FIRST, SECOND
from app.records.kinds import HANDOFF, TRANSFER, Kind
from app.records.reading import Answers, fields_in
from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.expert import Expert
from tests.browser.floor import CHOSEN, Floor, reading_floor, safety_floor, written
from tests.browser.test_keystrokes import Played, an_expert
from tests.browser.ward import Scene, Ward
from tests.support.sampling import IS_WHOLE

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
# Of a handoff, for each of the two.
_MOST_SECONDS = 90
# Of reading, of joining and of handing in: few readings, so that each page weighs more.
_AIM = 1.35
_BEDSIDE = {
    "sedation": "0: awake (site sedation scale 0 to 3)",
    "respiratory_rate": "14 /min",
    "line_traced": "as-it-should-be",
    "button_used": "by-the-patient-alone",
    "pain_at_rest": "2",
    "pain_on_movement": "4",
}
_TO = "3"

# Until whoever gives can read, and whoever takes finds it in the list; what that demands of the latter.
Begins = Callable[[Expert, Expert, Scene], tuple[str, str, Floor]]


def _is_handed_over(giving: Expert, taking: Expert, scene: Scene) -> tuple[str, str, Floor]:
    giving.press_at("My infusions: hand over, or go on a break")
    giving.press_at(f"Hand over: {scene.place}", kind="button")
    taking.go("/")
    return scene.place, "incoming", {}


def _is_taken(giving: Expert, taking: Expert, scene: Scene) -> tuple[str, str, Floor]:
    found_at = scene.place.replace("Ward 4 East", "Recovery room").replace(scene.bed, _TO)
    taking.press_at("Take a patient from another unit")
    taking.choose_from("unit", giving.who.unit)
    taking.write("before", scene.bed)
    taking.write("bed", _TO)
    taking.go_on()
    taking.sees_heading(f"Taken from {scene.place}")
    giving.go("/")
    giving.press_at(f"Open the transfer check: {found_at}", kind="button")
    giving.press_at("Begin my reading")
    taking.press_at("To my checks")
    # The unit that is left, both beds, and the tap.
    return found_at, "receiving", {"take": CHOSEN + written(scene.bed) + written(_TO)}


_WAYS: list[tuple[Kind, str, Begins]] = [
    (HANDOFF, "t.osmund", _is_handed_over),
    *([(TRANSFER, "i.bexley", _is_taken)] if IS_WHOLE else []),
]


@pytest.mark.parametrize("way", _WAYS, ids=lambda way: str(way[0].name))
@pytest.mark.usefixtures("quick_pdf")
def test_to_take_over_costs_little_more_than_reading_and_a_handoff_less_than_a_minute_and_a_half(
    ward: Ward, scene: Scene, beforehand: Beforehand, way: tuple[Kind, str, Begins]
) -> None:
    kind, taker, begin = way
    beforehand.at_stage(Phase.STARTED)
    (giving, of_giving), (taking, of_taking) = an_expert(ward, "n.ferrow"), an_expert(ward, taker)
    for nurse in (giving, taking):
        nurse.page.clock.install(time=_BEGAN)
        nurse.page.clock.pause_at(_BEGAN + timedelta(seconds=1))
        nurse.sign_in()
    parts = {slot: _part(kind, slot, {**scene.quiet, "bedside": _BEDSIDE}) for slot in (FIRST, SECOND)}
    # Whoever hands over has signed in once for all her beds, and so has whoever takes over.
    of_giving.clear()
    of_taking.clear()
    place, part, demanded = begin(giving, taking, scene)
    giving.read(parts[FIRST], kind=kind, slot=FIRST)
    taking.join(place, part)
    taking.read(parts[SECOND], kind=kind, slot=SECOND)
    taking.press_at("Go on: sign")
    taking.sign()
    giving.is_led_on()
    giving.press_at("Go on: sign")
    giving.sign()
    giving.sees_heading("The record of this check")

    for nurse, events, answers, more in (
        (giving, of_giving, parts[FIRST], {}),
        (taking, of_taking, parts[SECOND], demanded),
    ):
        floor = dict(reading_floor(answers, nurse.who.login, nurse.who.secret))
        # That is given once, for all beds.
        del floor["sign-in"]
        played = Played(
            who=f"{kind.words}, {nurse.who.printed_name}",
            events=events,
            reading=floor,
            safety={**safety_floor(0, [], starts=False), **more},
        )
        print(f"\n{played.table()}")
        took = sum(each.milliseconds for each in played.screens.values()) / 1000
        assert kind is TRANSFER or took < _MOST_SECONDS
        assert played.ratios[1] <= _AIM


def _part(kind: Kind, slot: int, read: Answers) -> Answers:
    """What there is to say of what is asked for in one part."""
    of_part = kind.reads_of(slot)
    return {
        source: {
            each.name: read[source][each.name]
            for each in fields_in(of_part, Source(source))
            # Of a rate nothing is asked where the mode has no continuous part.
            if each.name in read[source] and each.name != "continuous_rate"
        }
        for source, _ in of_part
    }
