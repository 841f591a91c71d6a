"""Two nurses set up anew what was stopped, in Chromium, each at a device of their own."""

from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.two import two
from tests.browser.ward import Scene, Ward


def test_totals_come_first_and_the_one_that_was_on_is_read_once_more(ward: Ward, scene: Scene) -> None:
    Beforehand(running=ward.running, scene=scene).at_stage(Phase.STARTED).stops(why="other")
    pair = two(ward, scene)
    pair.opens()
    pair.one.sees("before the syringe is released", "Repeat set-up")
    pair.joins()
    again = {"comes_as": "part-used", "part_left": scene.right["totals"]["left"]}
    pair.read({**scene.quiet, "label": {**scene.right["label"], **again}})
    pair.compares()
    pair.one.sees("Order, label and device agree")

    turns = pair.take_the_steps()
    done = " ".join(words for _, ticked in turns for words in ticked)
    assert "The part-used syringe is whole" in done
    assert "The totals of the device that is used now stand at zero" in done
    assert "kept by one of you until" not in done
    pair.both_sign()
    pair.both_look()
    pair.starts()
    pair.other.page.get_by_role("link", name="Waste, return or spill: write it down").wait_for()
    pair.other.sees("What is left of a syringe that is not used again is wasted before a witness")
