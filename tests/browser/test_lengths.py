"""How long the pages are that are read at the bedside: in screens of a tablet and of a phone."""

import pytest

from app.records.sources import Source
from tests.browser.people import ONWARD, Nurse
from tests.browser.two import two
from tests.browser.ward import Scene, Ward
from tests.story.script import Read

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

TABLET, PHONE = (820, 1180), (360, 740)
MOST_SCREENS = {TABLET: 1.2, PHONE: 3.5}


def screens(nurse: Nurse, size: tuple[int, int]) -> float:
    """How many screens of this size the page in front takes."""
    width, height = size
    nurse.page.set_viewport_size({"width": width, "height": height})
    length = nurse.page.evaluate("document.querySelector('.foot').getBoundingClientRect().bottom + scrollY")
    assert nurse.page.evaluate("document.documentElement.scrollWidth") <= width
    return float(length) / height


def bottom_of_main_action(nurse: Nurse, size: tuple[int, int]) -> float:
    """How far down the end of the main action stands, in screens."""
    width, height = size
    nurse.page.set_viewport_size({"width": width, "height": height})
    box = nurse.page.locator("main .main").first.bounding_box()
    assert box is not None
    return (box["y"] + box["height"]) / height


def test_order_and_device_once_written_take_about_one_screen(ward: Ward, scene: Scene) -> None:
    pair = two(ward, scene)
    pair.one.hurries = False
    pair.opens()
    found: dict[tuple[str, tuple[int, int]], float] = {}
    while (source := pair.one.source_in_front) is not None:
        answers = scene.that_comes_to(Read.ALIKE)[0][source.value]
        if source in {Source.ORDER, Source.DEVICE}:
            pair.one.write_source(answers)
            for size in MOST_SCREENS:
                found[source.value, size] = screens(pair.one, size)
            pair.one.press(ONWARD)
        else:
            pair.one.read_source(answers)
    assert len(found) == 4
    assert {key: length for key, length in found.items() if length > MOST_SCREENS[key[1]]} == {}


def test_the_main_action_is_in_sight_where_nothing_may_start(ward: Ward, scene: Scene) -> None:
    pair = two(ward, scene)
    pair.opens()
    pair.joins()
    pair.both_hand_in(Read.SET_OTHERWISE)
    pair.one.look_at_check(scene.place)
    pair.one.sees("DO NOT START")
    found = {size: bottom_of_main_action(pair.one, size) for size in MOST_SCREENS}
    assert {size: bottom for size, bottom in found.items() if bottom > 1} == {}
