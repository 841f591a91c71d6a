"""How long the pages are that are read at the bedside: in screens of a tablet and of a phone."""

import pytest

from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import ONWARD, Nurse
from tests.browser.two import two
from tests.browser.ward import Scene, Ward
from tests.story.script import Read

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

TABLET, PHONE, SMALL_PHONE = (820, 1180), (390, 844), (360, 740)
MOST_SCREENS = {TABLET: 1.2, PHONE: 3.5, SMALL_PHONE: 3.5}
# Where order number, prescriber and device serial are asked too, which is at few sites.
MOST_WITH_ALL = {TABLET: 1.3, PHONE: 3.5, SMALL_PHONE: 3.75}
# What an order and a device may have besides.
_BOTH = {
    "mode": "demand-and-continuous",
    "continuous_rate": "0.2 mg/h",
    "limit_2_amount": "12 mg",
    "limit_2_window": "24 h",
    "loading_dose": "0.5 mg",
}
_BY_STAFF = {
    "staff_bolus_dose": "0.5 mg",
    "staff_bolus_interval": "30 min",
    "staff_bolus_most": "2 mg",
    "staff_bolus_window": "4 h",
}


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


def lengths(ward: Ward, scene: Scene, answers: Answers) -> dict[tuple[str, tuple[int, int]], float]:
    """How many screens order and device take, blank and once this is written."""
    pair = two(ward, scene)
    pair.one.hurries = False
    pair.opens()
    found: dict[tuple[str, tuple[int, int]], float] = {}
    while (source := pair.one.source_in_front) is not None:
        if source in {Source.ORDER, Source.DEVICE}:
            found |= {(f"{source}, blank", size): screens(pair.one, size) for size in MOST_SCREENS}
            pair.one.write_source(answers[source.value])
            found |= {(f"{source}, written", size): screens(pair.one, size) for size in MOST_SCREENS}
            pair.one.press(ONWARD)
        else:
            pair.one.read_source(answers[source.value])
    assert len(found) == 12
    return found


def test_order_and_device_take_about_one_screen(ward: Ward, scene: Scene) -> None:
    found = lengths(ward, scene, scene.quiet)
    assert {key: length for key, length in found.items() if length > MOST_SCREENS[key[1]]} == {}


def test_so_they_do_with_all_that_an_order_may_have(ward: Ward, scene: Scene) -> None:
    answers = scene.right_but(order=_BOTH | _BY_STAFF, device=_BOTH)
    found = lengths(ward, scene, answers)
    assert {key: length for key, length in found.items() if length > MOST_SCREENS[key[1]]} == {}


def test_with_all_that_a_site_may_ask_for_besides_they_take_little_more(ward: Ward, scene: Scene) -> None:
    ward.asks_for_more()
    order = {"order_number": "RX 20-417", "prescriber": "Dr Ada Quill"}
    answers = scene.right_but(order=_BOTH | _BY_STAFF | order, device=_BOTH | {"device_serial": "SN-0042"})
    found = lengths(ward, scene, answers)
    assert {key: length for key, length in found.items() if length > MOST_WITH_ALL[key[1]]} == {}


def out_of_sight(nurse: Nurse) -> dict[tuple[int, int], float]:
    """Where the end of the main action stands, in screens, on each that would have to be scrolled for it."""
    found = {size: bottom_of_main_action(nurse, size) for size in MOST_SCREENS}
    return {size: bottom for size, bottom in found.items() if not 0 < bottom <= 1}


def test_the_main_action_is_in_sight_where_nothing_may_start(ward: Ward, scene: Scene) -> None:
    pair = two(ward, scene)
    pair.opens()
    pair.joins()
    pair.both_hand_in(Read.SET_OTHERWISE)
    pair.one.look_at_check(scene.place)
    pair.one.sees("DO NOT START")
    assert out_of_sight(pair.one) == {}
    _the_head_is_one_line_and_the_stop(pair.one)
    _two_buttons_stand_on_one_line(pair.one)
    _what_is_wrong_is_no_button(pair.one)


def _the_head_is_one_line_and_the_stop(nurse: Nurse) -> None:
    nurse.page.set_viewport_size({"width": SMALL_PHONE[0], "height": SMALL_PHONE[1]})
    links = [each.bounding_box() for each in nurse.page.locator(".bar :is(a, button):visible").all()]
    middles = {round(each["y"] + each["height"] / 2) for each in links if each}
    assert len(links) > 1
    assert max(middles) - min(middles) <= 2
    stop = nurse.page.locator(".stop")
    assert stop.inner_text().startswith("If PCA is running here:")
    box = stop.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < SMALL_PHONE[1] / 6


def _two_buttons_stand_on_one_line(nurse: Nurse) -> None:
    nurse.page.set_viewport_size({"width": TABLET[0], "height": TABLET[1]})
    first = nurse.page.locator("main .actions").first
    boxes = [each.bounding_box() for each in first.locator("button:visible, .button:visible").all()]
    assert len(boxes) == 2
    assert len({(each["y"], each["height"]) for each in boxes if each}) == 1


def _what_is_wrong_is_no_button(nurse: Nurse) -> None:
    """In forced colours, where a block has no colour of its own: rules above and below, and no sides."""
    nurse.page.emulate_media(forced_colors="active")
    style = "each => ['top', 'left', 'right'].map(side => getComputedStyle(each)[`border-${side}-width`])"
    widths = nurse.page.locator(".headline .loud").evaluate(style)
    nurse.page.emulate_media(forced_colors="none")
    assert widths == ["4px", "0px", "0px"]


def test_the_main_action_is_in_sight_at_the_steps_and_at_the_last_look(
    ward: Ward, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    one, other = ward.two()
    for nurse in (one, other):
        nurse.look_at_check(beforehand.scene.place)
        nurse.follow("Go on: safety steps")
    begins = next(each for each in (one, other) if "what is ticked" in each.words)
    assert out_of_sight(begins) == {}

    beforehand.confirms_all()
    beforehand.both_sign()
    one.look_at_check(beforehand.scene.place)
    one.follow("Ready to start: last look")
    assert out_of_sight(one) == {}
    # What excludes the main action is as near.
    differs = one.page.get_by_role("button", name="It differs").bounding_box()
    assert differs is not None
    assert differs["y"] + differs["height"] <= SMALL_PHONE[1]
