"""A start without a check that was written down at the wrong bed, on the pages of whoever wrote it."""

from app.records.kinds import RE_CHECK
from app.records.state import Phase
from app.workflow import opening
from tests.factories.answers import answers
from tests.story.pages import pair_of
from tests.support.browser import words_of
from tests.support.world import UNIT, World
from tests.web.test_emergencies import taps


def test_its_author_says_that_it_was_another_bed_and_writes_that_down_at_the_right_one(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.READING)
    browser = pair.first
    browser.get("/started-without-check")
    page = browser.press("Write it down", unit=UNIT, bed=pair.bed, reason="Nobody could come")
    assert "Was it another bed?" not in world.at("r.calloway").get("/").text
    assert "Was it another bed?" in page.links()
    page = browser.follow("Was it another bed?")
    assert "The check that was open here ended with it, and stays ended" in page.text
    token = next(form for form in page.forms() if form.action.endswith("/another-bed"))
    page = browser.press("It was another bed")
    assert page.heading == "An infusion had to start without a check"
    assert "It counts no longer at Ward 4 East, bed" in words_of(page.with_id("main"))
    assert "stays ended: open another there" in words_of(page.with_id("main"))
    assert pair.state.abandoned
    assert "RUNNING WITHOUT A CHECK" not in browser.get("/").text
    # The button of a page from before, the page itself, and another's.
    assert "counts no longer" in browser.post(token.action, token.held).text
    assert "counts no longer" in browser.get(token.action).text
    assert pair.second.get(token.action).status == 404


def test_while_a_check_of_it_is_open_or_once_one_was_done_it_stays_and_the_page_says_why(
    world: World,
) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    browser = pair.first
    browser.get("/started-without-check")
    browser.press("Write it down", unit=UNIT, bed=pair.bed, reason="Nobody could come")
    page = browser.get("/started-without-check")
    assert "You wrote it down at Ward 4 East, bed" in page.text
    page = browser.follow("Was it another bed?")
    opened = opening.open_on_infusion(world.site, pair.act(pair.second), RE_CHECK, pair.state.check.infusion)
    assert isinstance(opened, opening.Opened)
    page = browser.press("It was another bed")
    assert page.status == 409
    assert "A check of it is open at that bed" in page.text
    assert page.links()["Show that check"] == f"/check/{opened.check}"
    stale = next(form for form in page.forms() if form.action.endswith("/another-bed"))
    pair.check = opened.check
    pair.world.join(pair.first, pair.check)
    pair.read(answers())
    pair.both_sign()
    page = browser.post(stale.action, stale.held)
    assert page.status == 409
    assert "It stays: two nurses have checked what runs there since" in page.text


def test_what_runs_without_a_check_stands_above_all_that_is_told(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    taps(pair, "Suspected overdose")
    browser = pair.first
    browser.get("/started-without-check")
    said = words_of(browser.press("Write it down", unit=UNIT, bed="31", reason="Nobody").with_id("main"))
    assert said.index("RUNNING WITHOUT A CHECK") < said.index("Suspected overdose: kept as it is")
