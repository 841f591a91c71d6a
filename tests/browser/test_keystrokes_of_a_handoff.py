"""A handoff by keys, as fast as the pages allow: what each part costs beside the floor of its readings."""

from datetime import UTC, datetime, timedelta

import pytest

from app.records.kept import FIRST, SECOND
from app.records.kinds import HANDOFF
from app.records.reading import Answers, fields_in
from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.floor import reading_floor, safety_floor
from tests.browser.test_keystrokes import Played, an_expert
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
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


@pytest.mark.usefixtures("quick_pdf")
def test_a_handoff_takes_each_of_the_two_less_than_a_minute_and_a_half(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STARTED)
    (outgoing, of_outgoing), (incoming, of_incoming) = (
        an_expert(ward, "n.ferrow"),
        an_expert(ward, "t.osmund"),
    )
    for nurse in (outgoing, incoming):
        nurse.page.clock.install(time=_BEGAN)
        nurse.page.clock.pause_at(_BEGAN + timedelta(seconds=1))
        nurse.sign_in()
    parts = {slot: _part(slot, {**scene.quiet, "bedside": _BEDSIDE}) for slot in (FIRST, SECOND)}
    # Whoever hands over has signed in once for all her beds, and so has whoever takes over.
    of_outgoing.clear()
    of_incoming.clear()
    outgoing.press_at("My infusions: hand over, or go on a break")
    outgoing.press_at(f"Hand over: {scene.place}", kind="button")
    outgoing.read(parts[FIRST], kind=HANDOFF, slot=FIRST)
    incoming.go("/")
    incoming.join(scene.place, "incoming")
    incoming.read(parts[SECOND], kind=HANDOFF, slot=SECOND)
    incoming.press_at("Go on: sign")
    incoming.sign()
    outgoing.is_led_on()
    outgoing.press_at("Go on: sign")
    outgoing.sign()
    outgoing.sees_heading("The record of this check")

    for nurse, events, answers in (
        (outgoing, of_outgoing, parts[FIRST]),
        (incoming, of_incoming, parts[SECOND]),
    ):
        floor = dict(reading_floor(answers, nurse.who.login, nurse.who.secret))
        # That is given once, for all beds.
        del floor["sign-in"]
        played = Played(
            who=f"Handoff, {nurse.who.printed_name}",
            events=events,
            reading=floor,
            safety=safety_floor(0, [], starts=False),
        )
        print(f"\n{played.table()}")
        took = sum(each.milliseconds for each in played.screens.values()) / 1000
        assert took < _MOST_SECONDS
        assert played.ratios[1] <= _AIM


def _part(slot: int, read: Answers) -> Answers:
    """What there is to say of what is asked for in one part."""
    of_part = HANDOFF.reads_of(slot)
    return {
        source: {
            each.name: read[source][each.name]
            for each in fields_in(of_part, Source(source))
            # Of a rate nothing is asked where the mode has no continuous part.
            if each.name in read[source] and each.name != "continuous_rate"
        }
        for source, _ in of_part
    }
