"""What is changed of what runs, on the pages: offered without a value, shown by how much once both agree."""

import pytest

from app.records.state import Phase
from tests.factories.answers import answers, changed
from tests.story.pages import Pair, pair_of
from tests.support.browser import Page, words_of
from tests.support.world import World

HIGHER = {"demand_dose": "0.3 mg"}
RAISED = changed(answers(), order=HIGHER, device=HIGHER)
# Each number stands once for the ear and once for the eye.
CHANGED = "Each demand before 0.2 mg 0.2 mg now 0.3 mg 0.3 mg more: 1.5 times as much"


@pytest.fixture
def pair(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def test_what_may_be_changed_is_offered_without_a_value(pair: Pair) -> None:
    pair.first.get("/")
    page = pair.first.follow("Check or change")

    assert page.heading == "What is checked or changed?"
    assert "Open a settings change" in main_of(page)
    assert [value for value in ("HYDROmorphone", "0.2 mg", "10 min", "DM-40417") if value in page.text] == []


def test_while_something_is_changed_nobody_is_offered_to_let_the_line_run_on(pair: Pair) -> None:
    pair.changes("settings change")
    pair.read(RAISED)
    pair.tick(pair.first, "I did")
    assert "the line is paused" in main_of(pair.first.get("/"))
    assert "Let the line run on" not in pair.first.page.links()


def test_a_settings_change_goes_to_its_end_and_shows_by_how_much(pair: Pair) -> None:
    pair.changes("settings change")
    pair.read(RAISED)
    page = pair.page(pair.second)
    said = main_of(page)

    # By hand: every 10 min from the start, until 2 mg in 4 h are reached: 6 of 0.3 mg, 10 of 0.2 mg.
    assert "What is changed" in said
    assert CHANGED in said
    assert "Lockout 10 min 10 min as before" in said
    assert "Most in 1 h before 1.2 mg 1.2 mg now 1.8 mg 1.8 mg more: 1.5 times as much" in said
    assert "Most in 4 h before 2 mg 2 mg now 1.8 mg 1.8 mg less: 0.9 times as much" in said
    pair.take_steps()
    pair.sign()
    pair.look()
    page = pair.start()
    assert CHANGED in words_of(page.with_id("main"))
    assert "running" in main_of(pair.first.get("/"))


def test_while_the_readings_differ_nothing_of_what_is_changed_is_shown(pair: Pair) -> None:
    pair.changes("settings change")
    pair.read(RAISED, changed(answers(), order=HIGHER))

    assert "What is changed" not in pair.page(pair.first).text


def test_a_dose_is_lowered_at_once_in_one_tap_and_a_check_is_due(pair: Pair) -> None:
    pair.first.get("/")
    pair.first.follow("Check or change")
    page = pair.first.press("Breathing slower than before")
    assert page.heading == "Written down: the dose was lowered for safety."
    assert "Two nurses make a settings change by" in main_of(page)

    pair.world.clock.pass_(seconds=61 * 60)
    assert "overdue" in main_of(pair.world.at("r.calloway").get("/"))
    for browser, login in zip(pair.both, pair.logins, strict=True):
        pair.world.sign_in(browser, login)
    pair.changes("settings change")
    pair.read(answers())
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    assert "overdue" not in main_of(pair.first.get("/"))
    assert "Two nurses make a settings change" not in pair.first.follow("Check or change").text


def test_what_the_log_says_was_stopped_was_lowered_all_the_same(pair: Pair) -> None:
    pair.first.get("/")
    address = pair.first.follow("Check or change").path
    token = [("csrf_token", pair.first.token())]
    pair.page(pair.first, "/stop")
    pair.first.press("The device was stopped: write it down")
    page = pair.first.post(address.replace("change", "lowered"), token)

    assert page.heading == "Written down: the dose was lowered for safety."


def test_of_an_infusion_of_another_unit_only_a_lowered_dose_is_written_and_of_none_nothing(
    pair: Pair,
) -> None:
    address = f"/infusion/{pair.state.check.infusion}/change"

    assert pair.first.get("/infusion/nobodys/change").status == 404
    elsewhere = pair.world.at("i.bexley", "recovery")
    page = elsewhere.get(address)
    assert page.heading == "Was a dose lowered?"
    assert [words for words in ("bed 12", "Open a", "It is at this bed now") if words in page.text] == []
    page = elsewhere.press("Breathing slower than before")
    assert page.heading == "Written down: the dose was lowered for safety."
    assert "Two nurses make a settings change by" in main_of(pair.first.get(address))


def test_what_comes_before_a_source_stands_on_its_page(pair: Pair) -> None:
    pair.changes("syringe change")
    page = pair.page(pair.first, "/read/totals")

    assert "take the line off the patient or clamp it there" in main_of(page)
    assert "runs on while you read" not in page.text
    assert "Now the next syringe, once both have read" in main_of(pair.page(pair.first, "/read/label"))


def test_what_was_left_before_is_not_taken_for_what_the_next_syringe_holds(pair: Pair) -> None:
    pair.changes("syringe change")
    pair.read(changed(answers(), label={"lot": "DM-INV-8", "comes_as": "new"}))
    pair.take_steps()
    said = main_of(pair.page(pair.first, "/sign"))
    short = said[said.index("In short") : said.index("Read the whole record")]
    assert "Left in the syringe that was on" in short
    assert "Volume left in the syringe" not in short

    pair.sign()
    pair.look()
    pair.start()
    for nurse in pair.both:
        page = pair.page(nurse)
        assert "What is left of the old syringe is wasted" in main_of(page)
        assert "Waste, return or spill: write it down" in page.links()
    assert "Waste, return or spill: write it down" not in pair.page(pair.world.at("p.varga")).links()


def test_another_drug_in_the_syringe_says_what_is_done_instead(pair: Pair) -> None:
    pair.changes("syringe change")
    other = {"drug": "morphine"}
    pair.read(changed(answers(), label=other, device=other))

    assert "Another drug never follows through this line." in main_of(pair.page(pair.first))
    assert "open a new one for the other drug, with a new set" in main_of(pair.page(pair.first))


def test_a_label_that_is_wrong_is_not_put_right_in_a_settings_change(pair: Pair) -> None:
    pair.changes("settings change")
    pair.read(changed(answers(), label={"use_by": "2031-01-31"}))
    said = main_of(pair.page(pair.first))

    assert "The syringe is not changed in this check: end it, and open a syringe change." in said
    assert "Syringe replaced" not in said


def test_the_bed_changes_without_a_check(pair: Pair) -> None:
    pair.first.get("/")
    pair.first.follow("Check or change")
    page = pair.first.press("It is at this bed now", bed="no such bed")
    assert page.status == 422
    assert page.with_id("field-bed").get("value") == "no such bed"

    page = pair.first.press("It is at this bed now", bed="14")
    assert page.heading == "Written down: it is at bed 14 now."
    assert "bed 14" in main_of(pair.first.get("/"))
    # The second half of a double press.
    pair.first.follow("Check or change")
    assert "It is at this bed already." in pair.first.press("It is at this bed now", bed="14").text
