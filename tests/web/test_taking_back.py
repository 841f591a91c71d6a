"""The page on which the drug of a wrong syringe is written down, with a witness."""

import pytest

from tests.factories.answers import answers
from tests.story.pages import DONE_BUTTON, FIRST_NURSE, VERIFIED_BUTTON, Pair, compared, joined
from tests.support.browser import words_of
from tests.support.world import World
from tests.web.test_stepping import boxes
from tests.web.test_unlocking import PIN

TAIL = "/taken-back"
WRITE = "Write down what was taken back"
NEW_SET = "A new line set is taken"


@pytest.fixture
def replaced(world: World) -> Pair:
    """The line was primed from a wrong syringe, which was replaced."""
    pair = joined(world)
    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="set-primed")
    pair.read(answers(label={"amount": "30 mg"}))
    pair.page(pair.first)
    pair.first.press("Syringe replaced")
    return pair


@pytest.fixture
def due(replaced: Pair) -> Pair:
    """Then both read the same."""
    replaced.read(answers())
    return replaced


def test_the_step_leads_to_it_and_says_what_was_written(due: Pair) -> None:
    page = due.page(due.first, "/steps")
    assert WRITE in page.text
    due.first.get(f"/check/{due.check}{TAIL}")
    assert "The primed line still holds 2.3 mg of the old HYDROmorphone." in due.first.page.text

    page = due.take_back()

    assert page.path == f"/check/{due.check}/steps"
    said = words_of(page.with_id("main"))
    assert (
        "27.7 mL in the syringe that was replaced: wasted, witnessed by Imogen Bexley. Lot LK-2207." in said
    )
    assert "2.3 mL in its line: wasted, witnessed by Imogen Bexley. Lot LK-2207." in said
    due.page(due.second, "/steps")
    due.second.press(VERIFIED_BUTTON, verified="old-syringe")


def test_it_stands_on_what_both_sign(due: Pair) -> None:
    due.take_back(given={"stated_at": "00:01"})
    due.take_steps()
    assert "Drug taken back" in due.page(due.first, "/sign").text
    assert "2.3 mL in its line: wasted on 2 May 2031, 00:01 (+01:00), witnessed by" in due.first.page.text


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"in_line": "2,3"}, "in_line"),
        ({"in_syringe": ""}, "in_syringe"),
        ({"way": "spilt"}, "way"),
        ({"lot": ""}, "lot"),
        ({"stated_at": "about two"}, "stated_at"),
        ({"login": ""}, "login"),
        ({"secret": ""}, "secret"),
        ({"secret": PIN}, "secret"),
    ],
)
def test_bad_input_is_beside_its_field_and_nothing_is_lost(
    due: Pair, given: dict[str, str], says: str
) -> None:
    typed = {key: text for key, text in given.items() if key != "way"}
    if "way" in given:
        page = due.page(due.first, TAIL)
        page = due.first.post(
            page.path,
            [("csrf_token", due.first.token()), ("in_syringe", "27.7"), ("in_line", "2.3"), ("way", "spilt")],
        )
    else:
        page = due.take_back(given=typed)
    assert page.status == 422
    assert f'href="#field-{says}"' in page.body
    assert 'value="27.7"' in page.body or "in_syringe" in given
    assert due.world.secrets["i.bexley"] not in page.body
    assert due.state.taken_back == ()


def test_whoever_writes_it_is_no_witness_of_it(due: Pair) -> None:
    page = due.take_back(witness=FIRST_NURSE)
    assert page.status == 422
    assert "Whoever writes it is no witness of it." in page.text
    assert due.state.taken_back == ()


def test_whom_the_policy_does_not_name_is_none_either(due: Pair) -> None:
    page = due.take_back(witness="q.lindqvist")
    assert page.status == 422
    assert "do not let this person witness it" in page.text
    assert due.state.taken_back == ()


def test_what_was_written_meanwhile_is_shown_before_anything_is_written_anew(due: Pair) -> None:
    due.page(due.second, TAIL)
    due.take_back()
    page = due.second.press(
        "Now the witness reads", in_syringe="27.6", in_line="2.3", way="wasted", lot="LK-2207"
    )
    assert page.status == 409
    assert "27.7 mL in the syringe that was replaced" in page.text
    assert len(due.state.taken_back) == 2


def test_it_is_the_two_nurses(due: Pair) -> None:
    assert due.page(due.world.at("r.calloway"), TAIL).status == 404


def test_where_no_syringe_was_replaced_there_is_no_such_page(world: World) -> None:
    pair = joined(world)
    assert pair.page(pair.first, TAIL).status == 404


def test_while_the_two_read_it_leads_back_to_the_check(replaced: Pair) -> None:
    steps = words_of(replaced.page(replaced.first, "/steps").with_id("main"))
    assert WRITE not in steps
    assert "The syringe that was replaced" not in steps
    replaced.hand_in(replaced.first, answers())
    for browser in replaced.both:
        page = replaced.page(browser, TAIL)
        assert page.path != f"/check/{replaced.check}{TAIL}"
        assert "Drug taken back" not in page.text


def test_of_a_check_that_was_ended_its_page_leads_to_it(due: Pair) -> None:
    due.abandons()
    assert WRITE in due.page(due.first).text
    page = due.take_back()
    assert page.path == f"/check/{due.check}"
    assert "27.7 mL in the syringe that was replaced: wasted" in page.text
    assert "Put it right" in page.text
    assert len(due.state.taken_back) == 2


@pytest.fixture
def to_be_signed(due: Pair) -> Pair:
    """What was taken back is written, and every step verified."""
    due.take_back()
    due.take_steps()
    return due


def test_a_mistake_found_before_signing_is_put_right_and_a_new_edition_is_signed(to_be_signed: Pair) -> None:
    pair = to_be_signed
    pair.page(pair.first, "/sign")
    assert "Put it right" in pair.first.page.text

    page = pair.page(pair.first, TAIL)
    assert "Your colleague verifies it anew, and both sign the new edition." in page.text
    page = pair.take_back(given={"in_line": "2.4"})

    assert page.path == f"/check/{pair.check}/steps"
    pair.tick(pair.second, VERIFIED_BUTTON)
    said = pair.page(pair.second, "/sign").text
    assert "2.3 mL in its line: wasted, witnessed by Imogen Bexley. Lot LK-2207. Counts no longer" in said
    assert "2.4 mL in its line: wasted, witnessed by Imogen Bexley. Lot LK-2207." in said
    assert pair.state.edition == 2


def test_a_mistake_found_when_it_runs_is_put_right_on_the_page_of_the_check(to_be_signed: Pair) -> None:
    pair = to_be_signed
    pair.both_sign()
    pair.both_look()
    pair.starts()
    assert "Put it right" in pair.page(pair.first, "/record").text
    assert "The signed record stays as it is" in pair.page(pair.first, TAIL).text

    page = pair.take_back(given={"in_line": "2.4"})

    assert page.path == f"/check/{pair.check}"
    assert (
        "2.3 mL in its line: wasted, witnessed by Imogen Bexley. Lot LK-2207. Counts no longer" in page.text
    )
    assert "2.4 mL in its line: wasted" in page.text
    # What was signed says what was signed.
    assert "2.4 mL" not in pair.page(pair.first, "/record").text
    # It is told to nobody else than before.
    assert pair.page(pair.world.at("r.calloway"), TAIL).status == 404


def test_after_danger_in_the_label_the_steps_ask_whether_another_syringe_is_on(world: World) -> None:
    pair = joined(world)
    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="set-primed")
    pair.page(pair.first, "/danger")
    pair.first.press("Say it", source="label")
    pair.read(answers())
    page = pair.page(pair.first, "/steps")
    assert "same-syringe" in boxes(page)
    assert "Another was put on: write down what was taken back" in page.text
    said = "Only where another syringe was put on when danger was seen"
    assert f"{said}: what was done with the old one is then due again." in pair.page(pair.first, TAIL).text

    page = pair.take_back()

    assert "27.7 mL in the syringe that was replaced" in page.text
    assert "same-syringe" not in boxes(page)
    assert {"new-set", "set-primed"} <= set(boxes(page))


def test_of_a_check_that_was_ended_after_danger_its_page_asks_only_where_one_was_replaced(
    world: World,
) -> None:
    pair = joined(world)
    pair.page(pair.first, "/danger")
    pair.first.press("Say it", source="label")
    pair.abandons()
    assert "If a syringe was replaced: write down what was taken back" in pair.page(pair.first).text
    assert "when danger was seen." in pair.page(pair.first, TAIL).text
    assert "If a syringe was replaced" not in pair.take_back().text


def test_after_a_wrong_syringe_a_new_set_is_asked_for_with_what_the_old_one_holds(world: World) -> None:
    wrong = answers(label={"amount": "30 mg"})
    pair = joined(world)
    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="set-primed")
    assert NEW_SET not in words_of(pair.page(pair.first, "/steps").with_id("main"))
    pair.read(wrong)
    pair.page(pair.first)
    pair.first.press("Syringe replaced")
    # Until the two agree anew only the step is there, and no number.
    page = pair.page(pair.second, "/steps")
    assert NEW_SET in words_of(page.with_id("main"))
    assert "still holds" not in page.text
    pair.read(answers())
    page = pair.page(pair.second, "/steps")
    # Common practice, no source: a set of 2.3 mL, 30 mg in 30 mL.
    assert "The primed line still holds 2.3 mg of the old HYDROmorphone." in page.text
    assert "new-set" in boxes(page)
    assert "old-syringe" not in boxes(page)
    pair.take_back()
    pair.take_steps()
    assert {each.step for each in pair.state.confirmations} >= {"new-set", "set-primed"}


def test_a_syringe_that_is_replaced_before_priming_asks_for_no_new_set(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    pair.page(pair.first)
    pair.first.press("Syringe replaced")
    pair.read(answers())
    assert NEW_SET not in words_of(pair.page(pair.first, "/steps").with_id("main"))
