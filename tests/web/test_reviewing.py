"""The page of one finding: what the two saw, and what is done with it."""

import pytest

from app.workflow.accounts import set_active
from tests.factories.answers import answers
from tests.story.pages import Pair, at_steps, compared
from tests.support.browser import Browser
from tests.support.world import World

GIVEN = {"category": "B", "readers": "nobody", "why": "the label was of another strength"}


@pytest.fixture
def pair(world: World) -> Pair:
    """A check that found the label wrong, and was ended."""
    made = compared(world, answers(label={"amount": "30 mg"}))
    made.page(made.first, "/abandon")
    made.first.press("Give this check up", reason="supply-fault")
    return made


def at(world: World, pair: Pair, login: str, unit: str = "") -> Browser:
    browser = world.at(login, unit) if unit else world.at(login)
    browser.get(f"/findings/{pair.check}/sources/1/1")
    return browser


def test_it_is_found_from_the_list_and_shows_what_the_two_saw(world: World, pair: Pair) -> None:
    browser = world.at("r.calloway")
    browser.get("/findings?severity=stop")
    page = browser.follow("Look through")

    assert page.path == f"/findings/{pair.check}/sources/1/1"
    for stands in ("Label is not the order: Concentration", "Ward 4 East, bed 12", "As the two saw it"):
        assert stands in page.text, stands
    assert "Nobody has looked through it yet." in page.text
    # A charge nurse classifies nothing.
    assert "Classify" not in page.text


def test_it_is_looked_through_given_on_and_noted(world: World, pair: Pair) -> None:
    browser = at(world, pair, "r.calloway")
    form, _ = browser.page.form_with("Give it")
    # Of quality, at any unit; a charge nurse elsewhere is not among them.
    quill = next(each for each in form.choices["to"] if "q" in each)
    browser.press("Give it", to=quill, to_text="please")
    browser.press("Keep the note", note="seen before")
    page = browser.press("I have looked through it", seen_text="the new syringes")

    for stands in ("Given to Quill Lindqvist", "please", "seen before", "Looked through", "the new syringes"):
        assert stands in page.text, stands
    assert page.path == f"/findings/{pair.check}/sources/1/1"
    set_active(world.site, world.clock.now, by="a.moreau", person=quill, active=False)
    page = browser.get(page.path)
    assert "Given to Quill Lindqvist, who can no longer sign in" in page.text
    assert quill not in browser.page.form_with("Give it")[0].choices["to"]


def test_a_primed_volume_has_a_page_beside_what_both_read(world: World) -> None:
    made = at_steps(world)
    made.prime("1")
    made.page(made.first, "/abandon")
    made.first.press("Give this check up", reason="supply-fault")
    browser = world.at("q.lindqvist")
    browser.get("/findings?code=primed-volume-below-set")
    page = browser.follow("Look through")

    assert page.path == f"/findings/{made.check}/priming/1/1"
    assert "primed volume" in page.text
    assert "ran out at priming" in page.text
    assert "looked through it" in browser.press("I have looked through it").text
    assert "Looked through, by Quill Lindqvist" in browser.get(page.path).text
    assert browser.get(f"/findings/{made.check}/priming/2/1").status == 404


@pytest.mark.parametrize(
    ("button", "typed", "says"),
    [
        ("Give it", {"to": ""}, "Choose a person."),
        ("Keep the note", {"note": " "}, "Write the note."),
        ("I have looked through it", {"seen_text": "x" * 2001}, "Write at most 2,000 characters."),
    ],
)
def test_what_is_lacking_is_said_beside_its_field(
    world: World, pair: Pair, button: str, typed: dict[str, str], *, says: str
) -> None:
    page = at(world, pair, "r.calloway").press(button, **typed)

    assert page.status == 422
    assert says in page.text


def test_it_is_classified_by_id_and_secret_and_the_second_is_told_nothing(world: World, pair: Pair) -> None:
    first = at(world, pair, "q.lindqvist")
    first.press("Classify", **GIVEN)
    assert "did not reach the patient" in first.get(f"/findings/{pair.check}/sources/1/1").text

    second = at(world, pair, "p.varga")
    assert "One person has classified it." in second.page.text
    assert "another strength" not in second.page.text
    page = second.press("Classify", category="A", readers="A")
    assert "another strength" in page.text
    assert "You have classified it." in page.text


def test_the_second_is_shown_the_same_page_whatever_is_written_beside_it(world: World, pair: Pair) -> None:
    first = at(world, pair, "q.lindqvist")
    first.press("Classify", **GIVEN)
    second = at(world, pair, "p.varga")
    path, untold = second.page.path, second.page.text
    assert "is shown to you once a second has classified it" in untold

    first.press("Keep the note", note="the first nurse misread it")
    at(world, pair, "r.calloway").press("Keep the note", note="of category B, says Quill")
    assert second.get(path).text == untold
    assert "the first nurse misread it" in first.get(path).text

    page = second.press("Classify", category="A", readers="A")
    for stands in ("the first nurse misread it", "of category B, says Quill"):
        assert stands in page.text, stands
    assert "once a second has classified it" not in page.text


def test_an_answer_that_is_not_whole_comes_back_with_what_was_typed(world: World, pair: Pair) -> None:
    page = at(world, pair, "q.lindqvist").press("Classify", category="B", why="kept")

    assert page.status == 422
    assert "Say whose misreading it was" in page.text
    assert "kept" in page.text


def test_who_may_not_look(world: World, pair: Pair) -> None:
    path = f"/findings/{pair.check}/sources/1/1"
    assert world.at("n.ferrow").get(path).status == 403
    assert world.at("a.moreau").get(path).status == 403
    assert world.at("r.calloway", "recovery").get(path).status == 404
    assert world.at("q.lindqvist").get(f"/findings/{pair.check}/1/99").status == 404
