"""The script leads every performer to the same phases, and leaves the same kinds of events behind.

Chromium performs the whole of it in tests/browser/test_script.py.
"""

import pytest

from app.records.kinds import SET_UP
from app.records.life import LIVES
from app.records.state import Phase
from app.site.installation import Site
from tests.factories.ward import Ward
from tests.story.script import WAYS
from tests.support.checking import pair_of
from tests.support.world import World


def kinds_of(site: Site, check: str) -> set[str]:
    """Of the events that stand in the log of a check."""
    with site.store.read() as reader:
        return {each.event.kind for each in reader.entries(check)}


def test_it_tells_how_every_phase_is_reached() -> None:
    assert list(WAYS) == list(LIVES[SET_UP.name].follows)


@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_at_the_pages_happens_what_the_workflow_does(one_ward: Ward, world: World, phase: Phase) -> None:
    pair, ward = pair_of(world).at_stage(phase), one_ward.at_stage(phase)

    assert pair.phase() is ward.phase is phase
    assert kinds_of(world.site, pair.check) == kinds_of(one_ward.site, ward.check)
