"""The readings of an end of PCA by keys: what they cost beside what no page could save."""

from datetime import UTC, datetime, timedelta

import pytest

from app.records.kinds import END_OF_PCA
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.floor import reading_floor, safety_floor
from tests.browser.test_keystrokes import Played, an_expert, asked_in
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
# Of reading alone; the aim of each other kind leaves more.
_AIM = 1.1


@pytest.mark.usefixtures("quick_pdf")
def test_the_readings_of_an_end_cost_little_more_than_reading(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STARTED).stops(why="end-of-therapy")
    reads = asked_in(END_OF_PCA, scene.quiet)
    (first, of_first), (second, of_second) = an_expert(ward, "n.ferrow"), an_expert(ward, "t.osmund")
    for nurse in (first, second):
        nurse.page.clock.install(time=_BEGAN)
        nurse.page.clock.pause_at(_BEGAN + timedelta(seconds=1))
    first.sign_in()
    first.press_at(f"End of PCA: {scene.place}", kind="button")
    first.press_at("Begin my reading")
    first.read(reads, kind=END_OF_PCA)
    second.sign_in()
    second.join(scene.place)
    second.read(reads, kind=END_OF_PCA)

    for nurse, events in ((first, of_first), (second, of_second)):
        played = Played(
            who=f"End of PCA, readings, {nurse.who.printed_name}",
            events=events,
            reading=reading_floor(reads, nurse.who.login, nurse.who.secret),
            safety=safety_floor(0, [], starts=False),
        )
        print(f"\n{played.table()}")
        assert played.ratios[0] <= _AIM
