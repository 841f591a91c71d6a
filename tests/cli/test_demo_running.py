"""A demonstration that begins in the middle of an infusion."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from app.auditing.invariants import check_invariants
from app.cli.demo_running import MIDDLES, begin_in_the_middle
from app.cli.demo_site import demonstration
from app.cli.walk import Nurse

pytestmark = pytest.mark.timeout(180)


@contextmanager
def begun(middle: str, folder: Path) -> Iterator[Callable[[str], Nurse]]:
    """A demonstration in the middle of its infusion; whoever is named has signed in."""
    with demonstration(folder, port=0, behind=MIDDLES[middle].ago) as running:
        begin_in_the_middle(running, MIDDLES[middle])
        assert not running.clock.behind

        def sign_in(login: str) -> Nurse:
            nurse = Nurse(running.address, running.person(login), lambda _: None)
            nurse.sign_in()
            return nurse

        yield sign_in
        assert check_invariants(running.site, running.clock()) == ()


def test_whoever_signs_in_finds_a_running_infusion_to_hand_over_and_what_happened_to_it(
    tmp_path: Path,
) -> None:
    with begun("handoff", tmp_path) as sign_in:
        nurse = sign_in("t.osmund")
        assert nurse.page.has_button("Handoff")
        whole = nurse.follow("Show")
    for words in ("12 doses given", "Left in it", "By use so far", "Ask pharmacy for the next one by"):
        assert words in whole.text
    assert "Kink in the line" in whole.text


def test_the_next_syringe_is_due_and_offered(tmp_path: Path) -> None:
    with begun("syringe", tmp_path) as sign_in:
        nurse = sign_in("n.ferrow")
        assert "syringe low" in nurse.page.text
        assert nurse.follow("Check or change").has_button("Syringe change")


def test_what_is_held_asks_first_what_a_prescriber_decided(tmp_path: Path) -> None:
    with begun("held", tmp_path) as sign_in:
        nurse = sign_in("n.ferrow")
        assert "held after a reversal agent" in nurse.page.text
        nurse.follow("Show")
        assert nurse.page.link_with("A prescriber decided")


def test_the_end_is_found_where_the_patient_was_taken_to(tmp_path: Path) -> None:
    with begun("end", tmp_path) as sign_in:
        nurse = sign_in("i.bexley")
        assert "Recovery room, bed 3" in nurse.page.text
        assert nurse.follow("Check or change").has_button("End of PCA")
