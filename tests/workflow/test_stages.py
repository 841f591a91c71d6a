"""Every stage of a check is reached by walking, on both engines."""

import pytest

from app.records.state import Phase
from tests.story.script import WAYS
from tests.story.ward import Ward


@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_a_check_is_walked_to_each_stage(ward: Ward, phase: Phase) -> None:
    assert ward.at_stage(phase).phase is phase
