"""A change of what runs by keys, as fast as the pages allow: what it costs beside what no page could save."""

from datetime import UTC, datetime, timedelta

import pytest

from app.records.kinds import CLEARING, DEVICE_CHANGE, REPEAT_SET_UP, SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.expert import Expert
from tests.browser.floor import reading_floor, safety_floor
from tests.browser.test_keystrokes import Played, an_expert, asked_in, without_what_one_reads
from tests.browser.ward import Scene, Ward
from tests.support.sampling import IS_WHOLE

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
# Of reading and what safety demands: a change has fewer readings, so that its few pages weigh more.
_AIM = 1.25
_OLD = {"total_amount": "0 mg", "total_volume": "none", "presses": "0", "doses": "0", "left": "27.7 mL"}
_KINDS = (SETTINGS_CHANGE, SYRINGE_CHANGE, *((DEVICE_CHANGE, CLEARING, REPEAT_SET_UP) if IS_WHOLE else ()))


@pytest.mark.parametrize("kind", _KINDS, ids=lambda kind: str(kind.name))
@pytest.mark.usefixtures("quick_pdf")
def test_a_change_costs_little_more_than_reading_and_its_safety_steps(
    ward: Ward, scene: Scene, beforehand: Beforehand, kind: Kind
) -> None:
    beforehand.at_stage(Phase.STARTED)
    reads = asked_in(kind, {**scene.quiet, "totals": _OLD})
    by_both = without_what_one_reads(reads)
    (first, of_first), (second, of_second) = an_expert(ward, "n.ferrow"), an_expert(ward, "t.osmund")
    for nurse in (first, second):
        nurse.page.clock.install(time=_BEGAN)
        nurse.page.clock.pause_at(_BEGAN + timedelta(seconds=1))
    first.sign_in()
    if kind is REPEAT_SET_UP:
        beforehand.stops(why="other")
        first.open_check(scene.bed)
    else:
        first.press_at(f"Check or change: {scene.place}")
        first.press_at(f"Open a {kind.words.lower()}", kind="button")
    first.read(reads, kind=kind)
    second.sign_in()
    second.join(scene.place)
    second.read(by_both, kind=kind)
    first.is_led_on()
    for nurse in (second, first):
        nurse.press_at("Go on: safety steps")
    ticked, verified = _take_the_steps(first, second, scene)
    _sign_and_start(first, second)

    observed = [scene.baseline[name] for name in ("sedation", "respiratory_rate", "spo2")]
    is_primed = kind in (SYRINGE_CHANGE, DEVICE_CHANGE, REPEAT_SET_UP)
    more = [scene.primed, scene.quiet["wristband"]["identifier"]] if is_primed else []
    for nurse, events, answers, safety in (
        (first, of_first, reads, safety_floor(ticked, [*observed, *more], bed="", starts=False)),
        (second, of_second, by_both, safety_floor(verified, [], starts=True)),
    ):
        played = Played(
            who=f"{kind.words}, {nurse.who.printed_name}",
            events=events,
            reading=reading_floor(answers, nurse.who.login, nurse.who.secret),
            safety=safety,
        )
        print(f"\n{played.table()}")
        assert played.ratios[1] <= _AIM


def _take_the_steps(first: Expert, second: Expert, scene: Scene) -> tuple[int, int]:
    """Group after group; how many the first ticked, and the second verified."""
    ticked = verified = 0
    while first.page.url.endswith("/steps"):
        ticked += first.take_steps(scene.baseline, scene.primed)
        while first.page.get_by_role("checkbox").count():
            ticked += first.take_steps(scene.baseline, scene.primed)
        second.is_led_on()
        verified += second.take_steps(scene.baseline, scene.primed)
        first.is_led_on()
    return ticked, verified


def _sign_and_start(first: Expert, second: Expert) -> None:
    second.sign()
    first.sign()
    first.press_at("The device shows exactly this", kind="button")
    second.is_led_on()
    second.press_at("The device shows exactly this", kind="button")
    second.press_at("Started: the infusion runs", kind="button")
    second.sees_heading("The record of this check")
