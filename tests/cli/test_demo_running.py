"""A demonstration that begins in the middle of an infusion."""

from pathlib import Path

import pytest

from app.auditing.invariants import check_invariants
from app.cli.demo_running import MIDDLES, begin_in_the_middle
from app.cli.demo_site import demonstration
from app.cli.walk import Nurse
from app.cli.walk_browser import Page

pytestmark = pytest.mark.timeout(180)


def found_by(login: str, middle: str, folder: Path) -> tuple[Page, Page]:
    """The list, and the infusion's page, as this person finds them who signs in."""
    with demonstration(folder, port=0, behind=MIDDLES[middle].ago) as running:
        begin_in_the_middle(running, MIDDLES[middle])
        assert not running.clock.behind
        nurse = Nurse(running.address, running.person(login), lambda _: None)
        nurse.sign_in()
        unit = nurse.page
        whole = nurse.follow("Show")
        assert check_invariants(running.site, running.clock()) == ()
    return unit, whole


def test_whoever_signs_in_finds_a_running_infusion_to_hand_over_and_what_happened_to_it(
    tmp_path: Path,
) -> None:
    unit, whole = found_by("t.osmund", "handoff", tmp_path)

    assert unit.has_button("Handoff")
    for words in ("12 doses given", "Left in it", "By use so far", "Ask pharmacy for the next one by"):
        assert words in whole.text
    assert "Kink in the line" in whole.text


@pytest.mark.parametrize(
    ("login", "middle", "words"),
    [
        ("n.ferrow", "syringe", "syringe low"),
        ("n.ferrow", "held", "held after a reversal agent"),
        ("t.osmund", "end", "Check or change"),
    ],
)
def test_each_other_beginning_is_found_on_the_list(
    tmp_path: Path, login: str, middle: str, words: str
) -> None:
    unit, _ = found_by(login, middle, tmp_path)

    assert words in " ".join([unit.text, *(each.words for form in unit.forms for each in form.buttons)])
