"""What runs at one bed, at another: no more of it is told than where, whoever's it is."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from app.records.reading import Answers
from tests.factories.answers import answers, of_patient
from tests.story.pages import FIRST_NURSE, SECOND_NURSE
from tests.support.observers import Scene, assert_same, looked_everywhere
from tests.support.world import World
from tests.web.test_blindness_worlds import IN_FORCE, set_up_and_started


def the_other_bed(world: World, in_force: Answers, read: Answers) -> Scene:
    """What is in force at one bed is told no more at another than that it runs there."""
    elsewhere = set_up_and_started(world, in_force)
    here = replace(elsewhere, bed="13")
    here.check = world.open_check(here.first, here.bed)
    here.joins()
    here.read(read)
    return Scene(pair=here, observers={FIRST_NURSE: here.first, SECOND_NURSE: here.second})


# These two have read alike, and so may print what runs on their unit: a look that is written down there.
SETTINGS_ON_PAPER = frozenset({"downtime.settings"})


@pytest.mark.timeout(900)
@pytest.mark.parametrize("is_the_same", [False, True], ids=["another's", "the same patient's"])
def test_of_what_runs_elsewhere_no_more_is_told_than_where(
    worlds: Callable[[], World], *, is_the_same: bool
) -> None:
    """Order, syringe, dose and, where it is another's, patient: nothing of it reaches these two."""
    answered = []
    for in_force in IN_FORCE:
        patient = "H-1" if is_the_same else in_force["wristband"]["identifier"]
        there = of_patient(patient, in_force)
        scene = the_other_bed(worlds(), there, of_patient("h1" if is_the_same else "H-9", answers()))
        codes = [each.code for each in scene.pair.state.findings]
        assert codes == (["runs-elsewhere"] if is_the_same else [])
        answered.append(looked_everywhere(scene, but=SETTINGS_ON_PAPER))
    assert_same(*answered)
