"""The script leads every performer to the same phases, and leaves the same kinds of events behind.

Chromium performs it in tests/browser/test_without_scripts.py.
"""

import pytest

from app.records.state import Phase
from tests.story.events import Story
from tests.story.pages import pair_of
from tests.story.script import WAYS
from tests.story.trying import kinds_of
from tests.story.ward import Ward
from tests.support.world import World


def test_it_tells_how_every_phase_is_reached() -> None:
    assert list(WAYS) == list(Phase)


@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_at_the_pages_happens_what_the_workflow_does(one_ward: Ward, world: World, phase: Phase) -> None:
    pair, ward = pair_of(world).at_stage(phase), one_ward.at_stage(phase)

    assert pair.phase() is ward.phase is phase
    assert kinds_of(world.site, pair.check) == kinds_of(one_ward.site, ward.check)


@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_what_is_told_as_events_happens_in_the_workflow(one_ward: Ward, phase: Phase) -> None:
    story, ward = Story().at_stage(phase), one_ward.at_stage(phase)

    assert story.state().phase is phase
    assert {each.event.kind for each in story.entries} == kinds_of(one_ward.site, ward.check)
