"""A request for help that one third person has taken is taken over by another."""

from app.records.state import Phase
from app.words.checking import help_asked_words
from tests.factories.answers import answers
from tests.story.pages import Pair, compared, pair_of
from tests.support.browser import Browser, words_of
from tests.support.world import World

ABOVE_HARD_LIMIT = answers(order={"demand_dose": "0.7 mg"}, device={"demand_dose": "0.7 mg"})


def ask(pair: Pair) -> None:
    """The first asks for help."""
    pair.page(pair.first, "/help")
    pair.first.press("Ask for help", why="rule")


def helper_of(pair: Pair, login: str) -> Browser:
    """Somebody takes the request."""
    browser = pair.world.at(login)
    pair.page(browser)
    browser.press("Take this request")
    return browser


def test_a_request_is_taken_over_and_whoever_had_it_is_told_with_her_words_kept(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    first, other = helper_of(pair, "r.calloway"), world.at("p.varga")
    assert "Ruth Calloway has had this request for help since" in pair.page(other).text
    other.press("Take over from Ruth Calloway")
    assert "Give the check back to the two" in other.page.text

    late = first.press("Give the check back", outcome="other", more="we looked together")

    assert late.status == 409
    assert "Somebody else has taken this request over" in late.text
    assert "we looked together" in late.text
    assert "Take over from Petra Varga" in late.text
    assert "0.7 mg" not in words_of(late.with_id("main"))
    assert "Petra Varga has taken the request over from Ruth Calloway" in pair.page(pair.first).text
    # Handed back; and what Petra presses then says the same to her.
    first.press("Take over from Petra Varga")
    other.press("Give the check back", outcome="other", more="")
    assert pair.state.open_help is not None
    assert pair.state.open_help.taken_by == world.person("r.calloway").id
    # Settled meanwhile.
    pair.page(other)
    form, _ = other.page.form_with("Take over from Ruth")
    pair.page(first)
    first.press("Give the check back", outcome="other", more="we looked")
    assert "This request is not open any more" in other.post(form.action, form.held).text


def test_an_exception_typed_for_a_request_that_was_taken_over_grants_nothing_and_is_kept(
    world: World,
) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    first, other = helper_of(pair, "r.calloway"), world.at("p.varga")
    pair.page(other)
    other.press("Take over from Ruth Calloway")

    form, _ = first.page.form_with("Set this rule aside")
    rule = form.choices["finding"][0]
    page = first.press("Set this rule aside", finding=rule, reason="used to it", prescriber="Dr Brandt")

    assert page.status == 409
    assert "used to it" in page.text
    assert pair.state.exemptions == ()


def test_whoever_still_reads_is_told_that_help_was_asked_for_and_who_has_the_request(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.READING)
    ask(pair)
    for each in (pair.first, pair.second):
        assert help_asked_words(is_taken=False, by="") in pair.page(each, "/read/order").text
    helper_of(pair, "r.calloway")

    assert help_asked_words(is_taken=True, by="") in pair.page(pair.first, "/read/order").text
