"""A demonstration that begins in the middle of an infusion."""

from pathlib import Path

import pytest

from app.auditing.invariants import check_invariants
from app.cli.demo_running import STARTED, begin_in_the_middle
from app.cli.demo_site import demonstration
from app.cli.walk import Nurse


@pytest.mark.timeout(180)
def test_whoever_signs_in_finds_an_infusion_whose_syringe_is_low_and_what_happened_to_it(
    tmp_path: Path,
) -> None:
    said: list[str] = []
    with demonstration(tmp_path, port=0, behind=STARTED) as running:
        begin_in_the_middle(running)
        assert not running.clock.behind
        nurse = Nurse(running.address, running.person("n.ferrow"), said.append)
        nurse.sign_in()
        assert "syringe low" in nurse.page.text
        page = nurse.follow("Show")
        for words in ("15 doses given", "Left in it", "By use so far", "Ask pharmacy for the next one by"):
            assert words in page.text
        assert check_invariants(running.site, running.clock()) == ()
