"""A page of a check by keyboard alone, in the system's own colours, and without motion."""

import pytest
from playwright.sync_api import Page

from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_MOST_STOPS = 200

# Every place that the keyboard must reach, in the order of the page; of a group, the chosen one or the first.
_REACHABLE = """() => {
  const all = document.querySelectorAll("a[href], button, input, select, textarea, summary");
  return [...all].filter((each) => {
    if (each.type === "hidden" || each.tabIndex < 0) return false;
    if (!each.checkVisibility({visibilityProperty: true})) return false;
    if (each.type !== "radio") return true;
    const group = [...document.getElementsByName(each.name)];
    return each === (group.find((one) => one.checked) || group[0]);
  }).map((each, at) => (each.dataset.stop = String(at)));
}"""
_STYLE_ALL = """([which, name, value]) => document.querySelectorAll(which).forEach(
  (each) => each.style.setProperty(name, value, "important"))"""
# Where the keyboard is, and whether one sees it: the outline may be that of the choice around the box.
_HERE = """() => {
  const each = document.activeElement;
  if (each === document.body) return null;
  const seen = (one) => {
    const style = one && getComputedStyle(one);
    return Boolean(style) && style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  };
  return [each.dataset.stop || each.outerHTML, seen(each) || seen(each.closest(".choice"))];
}"""


def _walk(page: Page) -> tuple[list[str], list[str]]:
    """The places that the Tab key comes by, and those of them where one does not see it."""
    stops: list[str] = []
    unseen: list[str] = []
    for _ in range(_MOST_STOPS):
        page.keyboard.press("Tab")
        here = page.evaluate(_HERE)
        if here is None or here[0] in stops:
            return stops, unseen
        stops.append(here[0])
        if not here[1]:
            unseen.append(here[0])
    message = "the Tab key never comes to an end"
    raise AssertionError(message)


@pytest.fixture
def reader(ward: Ward, scene: Scene, beforehand: Beforehand) -> Nurse:
    """A nurse in front of the device's page, with a fault on it."""
    check = beforehand.at_stage(Phase.READING).check
    nurse = ward.nurse("n.ferrow")
    nurse.go(f"/check/{check}/read/device")
    nurse.write_source({**scene.right["device"], "demand_dose": ".2 mg"})
    nurse.press("Keep, and go on: Monitor")
    return nurse


def test_the_keyboard_reaches_everything_in_the_order_of_the_page(reader: Nurse) -> None:
    page = reader.page
    # The summary of what to put right has the keyboard at first: from there to the end, then from the top.
    assert page.evaluate("document.activeElement.className") == "faults"
    page.evaluate("document.activeElement.blur()")
    page.evaluate(
        "document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute('tabindex')"
    )
    expected = page.evaluate(_REACHABLE)
    stops, unseen = _walk(page)
    assert stops == expected
    assert len(stops) > 15
    assert unseen == []

    page.evaluate(_STYLE_ALL, ["*", "outline", "none"])
    page.evaluate("document.querySelector('[name=demand_dose]').tabIndex = 5")
    stops, unseen = _walk(page)
    assert stops != expected
    assert unseen != []


# What says something by a filled shape must keep an edge where the system takes the fill away.
_WITHOUT_EDGE = """() => [...document.querySelectorAll(
  ".loud, .mark.differs, .mark.consider, .plate, .choice, input[type=text], select, button:not(.plain)"
)].filter((each) => {
  const style = getComputedStyle(each);
  return each.checkVisibility() && (style.borderTopStyle === "none" || parseFloat(style.borderTopWidth) < 1);
}).map((each) => each.outerHTML.slice(0, 80))"""
_MOVING = """() => [...document.querySelectorAll("*")].filter((each) => {
  const style = getComputedStyle(each);
  return [style.animationDuration, style.transitionDuration].some((each) => parseFloat(each) > 0);
}).map((each) => each.outerHTML.slice(0, 80))"""


def test_in_forced_colours_every_shape_keeps_its_edge_and_nothing_moves(
    ward: Ward, scene: Scene, reader: Nurse
) -> None:
    stopped = Beforehand(running=ward.running, scene=scene.at("15")).compared(scene.wrong)
    page = reader.page
    page.emulate_media(forced_colors="active", reduced_motion="reduce")
    assert page.evaluate(_WITHOUT_EDGE) == []
    assert page.evaluate(_MOVING) == []
    reader.go(f"/check/{stopped.check}")
    reader.sees("DO NOT START")
    assert page.locator(".loud").count() > 0
    assert page.evaluate(_WITHOUT_EDGE) == []
    assert page.evaluate(_MOVING) == []

    page.evaluate(_STYLE_ALL, [".loud", "border", "0"])
    page.evaluate(_STYLE_ALL, ["a", "transition", "color 1s"])
    assert page.evaluate(_WITHOUT_EDGE) != []
    assert page.evaluate(_MOVING) != []
