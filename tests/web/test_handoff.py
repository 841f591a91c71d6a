"""A handoff on the pages, from the line of what runs to who answers for it then."""

import pytest

from app.records.kinds import HANDOFF
from app.records.state import Phase
from tests.factories.answers import HARD_TO_WAKE, answers
from tests.story.pages import Pair, pair_of
from tests.support.browser import Page, words_of
from tests.support.world import World


@pytest.fixture
def pair(world: World) -> Pair:
    pair = pair_of(world).at_stage(Phase.STARTED)
    pair.hands_over()
    return pair


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def test_each_is_asked_for_the_own_part_source_by_source(pair: Pair) -> None:
    assert pair.page(pair.first).path.endswith("/read/totals")
    assert pair.page(pair.first, "/read/bedside").heading == "Patient and line"
    asked = {name for form in pair.first.page.forms() for name in form.names}
    assert {"sedation", "respiratory_rate"} <= asked
    assert not asked & {"line_traced", "button_used", "pain_at_rest"}
    assert pair.page(pair.first, "/read/label").status == 404

    assert pair.page(pair.second).path.endswith("/read/wristband")
    pair.page(pair.second, "/read/bedside")
    asked = {name for form in pair.second.page.forms() for name in form.names}
    assert {"sedation", "line_traced", "button_used", "pain_at_rest", "pain_on_movement"} <= asked
    assert "Sedation, site sedation scale 0 to 3" in main_of(pair.second.page)


def test_it_is_compared_signed_and_then_the_incoming_nurse_answers(pair: Pair) -> None:
    pair.read(answers())
    page = pair.page(pair.first)
    assert page.heading == HANDOFF.agrees
    assert "incoming nurse" in main_of(page)
    assert "The account so far: it adds up" in main_of(page)
    pair.sign()

    page = pair.page(pair.second, "/record")
    assert "the incoming nurse answers for this infusion" in main_of(page)
    infusion = pair.state.check.infusion
    assert "Tomas Osmund answers for it now." in main_of(pair.second.get(f"/infusion/{infusion}"))


def test_what_one_read_otherwise_is_named_and_nothing_of_what_was_read(pair: Pair) -> None:
    pair.read(answers(), answers(device={"demand_dose": "2 mg"}))
    page = pair.page(pair.first)

    assert "Demand dose" in main_of(page)
    assert "2 mg" not in main_of(page)
    pair.first.press("Read these again")
    assert pair.page(pair.first).path.endswith("/read/device")


def test_a_sedated_patient_comes_before_everything(pair: Pair) -> None:
    pair.read(answers(), answers(bedside={"sedation": HARD_TO_WAKE}))
    page = pair.page(pair.first)

    assert "ACT NOW" in page.text, main_of(page)[:900]
    assert "Look at the patient now" in main_of(page)
