"""A bolus given by staff on the pages, and when the patient is observed."""

import pytest

from app.records.kinds import SYRINGE_CHANGE
from app.records.rules import OBSERVATIONS
from app.records.state import Phase
from app.site.loading import load_infusion
from app.workflow import opening
from tests.factories.answers import answers
from tests.story.pages import Pair, pair_of
from tests.support.browser import Page, words_of
from tests.support.world import World
from tests.workflow.test_boluses import ORDERED

LOOKED = {"sedation": "0", "respiratory_rate": "14"}


@pytest.fixture
def pair(world: World) -> Pair:
    """It runs under an order that lets staff give boluses."""
    pair = pair_of(world)
    pair.opens()
    pair.joins()
    pair.read(answers(order=ORDERED))
    pair.take_steps()
    pair.both_sign()
    pair.look()
    pair.start()
    return pair


def infusion_of(pair: Pair) -> str:
    return pair.state.check.infusion


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def bolus_page(pair: Pair) -> Page:
    pair.first.get(f"/infusion/{infusion_of(pair)}")
    return pair.first.follow("Bolus given by staff")


def given(pair: Pair) -> int:
    infusion = infusion_of(pair)
    with pair.world.site.store.read() as reader:
        return len(load_infusion(reader, infusion).boluses.given)


def test_look_give_and_look_again_at_its_peak(pair: Pair) -> None:
    said = main_of(bolus_page(pair))
    assert "The order: 0.4 mg of HYDROmorphone, not more often than every 10 min" in said
    assert "at most 1.2 mg in 4 h" in said
    assert "It is in no figure of the limit" in said
    assert "site sedation scale 0 to 3" in said
    page = pair.first.press("This is what I observed", **LOOKED)
    assert "Give it at the device now, exactly as the order says" in main_of(page)
    page = pair.first.press("0.4 mg was given")
    assert given(pair) == 1
    assert "Observe at 13:1" in main_of(page)
    page = pair.first.press("Write down what I observed", **LOOKED)
    assert page.status == 409
    assert "observe the patient then. Nothing was written." in page.text
    pair.world.clock.pass_(minutes=16)
    browser = pair.world.at("t.osmund")
    browser.get(f"/infusion/{infusion_of(pair)}/bolus")
    assert "Now: the peak of the last bolus" in main_of(browser.page)
    assert browser.press("Write down what I observed", **LOOKED).path == f"/infusion/{infusion_of(pair)}"
    assert "No other" not in main_of(browser.page)


def test_outside_the_protocol_the_page_says_what_the_protocol_says(pair: Pair) -> None:
    bolus_page(pair)
    page = pair.first.press("This is what I observed", sedation="3")
    assert page.heading == "Look at the patient now, and pause if in doubt"
    for says in ("Rouse the patient and stay.", "Give oxygen.", "Call for help:"):
        assert says in page.text
    assert given(pair) == 0


def test_what_was_typed_is_not_lost(pair: Pair) -> None:
    bolus_page(pair)
    page = pair.first.press("This is what I observed", respiratory_rate="many")
    assert page.status == 422
    assert page.links()["Sedation"] == "#field-sedation"
    assert page.with_id("field-respiratory_rate").get("value") == "many"


def test_too_soon_is_said_with_the_time_and_the_second_one_calls_the_pain_service(pair: Pair) -> None:
    for _ in range(2):
        bolus_page(pair)
        pair.first.press("This is what I observed", **LOOKED)
        pair.first.press("0.4 mg was given")
        pair.world.clock.pass_(minutes=4, seconds=30)
        page = pair.first.get(f"/infusion/{infusion_of(pair)}/bolus")
        assert "Until that is written down, no other one is given." in main_of(page)
        for _ in range(3):
            pair.world.clock.pass_(minutes=4)
            pair.first.get("/")
        pair.first.get(f"/infusion/{infusion_of(pair)}/bolus")
        pair.first.press("Write down what I observed", **LOOKED)
    assert "2 in an hour: call the pain service now." in main_of(bolus_page(pair))


def test_without_one_in_the_order_it_says_so(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    assert "lets staff give no bolus" in main_of(bolus_page(pair))


def test_what_was_given_before_something_happened_is_written_down_with_its_time(pair: Pair) -> None:
    bolus_page(pair)
    pair.first.press("This is what I observed", **LOOKED)
    pair.world.clock.pass_(minutes=5)
    pair.re_checks()
    pair.first.get(f"/infusion/{infusion_of(pair)}")
    said = main_of(pair.first.follow("You looked before a bolus: write down that it was given"))
    assert "If you gave the bolus then, write it down, whatever came since" in said
    assert "0.4 mg" not in said
    pair.first.press("It was given", given_at="13:02")
    assert given(pair) == 1
    assert "write it down" not in main_of(pair.first.get(f"/infusion/{infusion_of(pair)}/bolus"))
    # To a colleague it is told with the time that was stated.
    browser = pair.world.at("r.calloway")
    assert "13:02" in main_of(browser.get(f"/infusion/{infusion_of(pair)}/bolus"))


def test_what_was_given_before_a_look_outside_the_protocol_is_written_down_and_none_after_it(
    pair: Pair,
) -> None:
    bolus_page(pair)
    pair.first.press("This is what I observed", **LOOKED)
    pair.world.clock.pass_(minutes=5)
    colleague = pair.world.at("r.calloway")
    colleague.get(f"/infusion/{infusion_of(pair)}/bolus")
    colleague.press("This is what I observed", sedation="3")
    pair.first.get("/")
    pair.world.clock.pass_(minutes=3)
    said = main_of(bolus_page(pair))
    assert "If you gave the bolus then, write it down" in said
    assert "At 13:05 a look was outside the protocol: only one that was given before that" in said
    page = pair.first.press("It was given", given_at="13:06")
    assert page.status == 409
    assert "Nothing was written. At 13:05 a look was outside the protocol" in page.text
    assert given(pair) == 0
    pair.first.press("It was given", given_at="13:02")
    assert given(pair) == 1


def test_what_was_given_before_another_start_is_written_down_with_its_time_and_none_after_it(
    pair: Pair,
) -> None:
    infusion = infusion_of(pair)
    bolus_page(pair)
    pair.first.press("This is what I observed", **LOOKED)
    pair.world.clock.pass_(minutes=5)
    hurried = pair.world.at("r.calloway")
    hurried.get("/started-without-check")
    hurried.press("Write it down", bed=pair.bed, reason="an arrest")
    pair.first.get("/")
    pair.world.clock.pass_(minutes=4)
    pair.first.get(f"/infusion/{infusion}")
    page = pair.first.follow("You looked before a bolus: write down that it was given")
    assert "At 13:05 it was started anew: write when you gave it, before that." in main_of(page)
    assert "Hours and minutes, before 13:05." in main_of(page)
    for told in ("", "13:05", "13:08"):
        page = pair.first.press("It was given", given_at=told)
        assert page.status == 409
        assert "Nothing was written. At 13:05 it was started anew: write when you gave" in page.text
    assert given(pair) == 0
    page = pair.first.press("It was given", given_at="13:02")
    assert given(pair) == 1
    assert "started anew" not in main_of(page)


def test_while_a_change_is_open_none_is_offered_and_one_of_before_is_written_down(pair: Pair) -> None:
    infusion = infusion_of(pair)
    colleague = pair.world.at("r.calloway")
    colleague.get(f"/infusion/{infusion}/bolus")
    colleague.press("This is what I observed", **LOOKED)
    pair.world.clock.pass_(minutes=5)
    opened = opening.open_on_infusion(pair.world.site, pair.act(pair.first), SYRINGE_CHANGE, infusion)
    assert isinstance(opened, opening.Opened)
    colleague.get("/")
    pair.world.clock.pass_(minutes=3)
    words = "what runs is open since 13:05: the device stands, and no bolus is given."

    page = colleague.get(f"/infusion/{infusion}")
    assert words in main_of(page)
    assert "Bolus given by staff" not in page.links()
    page = colleague.follow("You looked before a bolus: write down that it was given")
    words = "and no bolus is given. Look at the patient anew once it runs on. The check was opened at 13:05."
    assert words in main_of(page)
    assert "At 13:05 a check was opened for which the device stands: only one" in main_of(page)
    assert not [each for each in ("This is what I observed", "0.4 mg was given") if each in page.text]
    page = colleague.press("It was given", given_at="13:07")
    assert page.status == 409
    assert "Nothing was written. At 13:05 a check that changes or ends what runs was opened" in page.text
    assert given(pair) == 0
    colleague.press("It was given", given_at="13:02")
    assert given(pair) == 1


def test_one_that_was_given_once_the_syringe_had_been_counted_is_told_to_the_charge_nurse(
    pair: Pair,
) -> None:
    infusion = infusion_of(pair)
    colleague = pair.world.at("r.calloway")
    colleague.get(f"/infusion/{infusion}/bolus")
    colleague.press("This is what I observed", **LOOKED)
    pair.world.clock.pass_(minutes=2)
    opened = opening.open_on_infusion(pair.world.site, pair.act(pair.first), SYRINGE_CHANGE, infusion)
    assert isinstance(opened, opening.Opened)
    pair.check = opened.check
    pair.world.join(pair.second, pair.check)
    totals = {"total_amount": "0 mg", "presses": "0", "doses": "0", "left": "27.6 mL"}
    pair.read(answers(order=ORDERED, label={"lot": "LOT-8"}, totals=totals))
    colleague.get("/")
    pair.world.clock.pass_(minutes=4)
    pair.take_steps()
    pair.both_sign()
    pair.look()
    pair.start()
    colleague.get(f"/infusion/{infusion}/bolus")
    page = colleague.press("It was given", given_at="13:05")
    assert page.status == 409
    assert "By the account the syringe that was on when you looked was counted at 13:02" in page.text
    assert given(pair) == 0


def test_to_the_two_who_read_there_the_order_is_closed(pair: Pair) -> None:
    infusion = infusion_of(pair)
    pair.re_checks()
    for browser in pair.both:
        said = main_of(browser.get(f"/infusion/{infusion}/bolus"))
        assert "You are one of two who read here" in said
        assert not [words for words in ("0.4 mg", "HYDROmorphone", "10 min", "1.2 mg") if words in said]
    assert "0.4 mg" in main_of(pair.world.at("r.calloway").get(f"/infusion/{infusion}/bolus"))


def test_the_page_after_a_start_says_when_the_patient_is_observed_first(pair: Pair) -> None:
    """Half an hour after it, by the protocol that comes with the program."""
    page = pair.first.get(f"/check/{pair.check}/record")
    assert "Observe the patient next by 2 May 2031, 13:30 (+01:00)" in main_of(page)
    assert "13:30" in main_of(pair.first.get(f"/infusion/{infusion_of(pair)}"))


def test_a_bolus_starts_that_clock_again(pair: Pair) -> None:
    pair.world.clock.pass_(minutes=3)
    bolus_page(pair)
    pair.first.press("This is what I observed", **LOOKED)
    pair.first.press("0.4 mg was given")
    assert "Observe the patient next by 2 May 2031, 13:33" in main_of(
        pair.first.get(f"/infusion/{infusion_of(pair)}")
    )


def test_lists_remind_only_where_the_site_says_so_and_nobody_who_reads_there(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    words = "Observe the patient by"
    assert words not in pair.first.get("/").text
    world.publishes(OBSERVATIONS, reminds=True)
    assert f"{words} 2 May 2031, 13:30 (+01:00)" in main_of(pair.first.get("/"))
    pair.re_checks()
    for browser in pair.both:
        assert words not in browser.get("/").text
    assert words in world.at("r.calloway").get("/").text


def test_a_new_protocol_counts_for_whoever_runs_and_every_page_says_the_same(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    world.publishes(OBSERVATIONS, stages=[{"every_minutes": 10, "for_minutes": 60}])
    for path in (f"/infusion/{infusion_of(pair)}", f"/check/{pair.check}/record"):
        assert "Observe the patient next by 2 May 2031, 13:10 (+01:00)" in main_of(pair.first.get(path))


def test_where_pages_remind_an_observation_is_overdue_until_somebody_says_it_was_made(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    page, overdue, tap = (
        f"/infusion/{infusion_of(pair)}",
        "Overdue: observe the patient",
        "I observed the patient",
    )
    world.clock.pass_(minutes=31)
    for browser, login in zip(pair.both, pair.logins, strict=True):
        world.sign_in(browser, login)
    charge = world.at("r.calloway")
    sheet = charge.get("/").links()["Shift sheet, to be printed"]
    assert not any(overdue in pair.first.get(each).text for each in ("/", page))
    assert tap not in pair.first.page.text
    assert "overdue" not in charge.get(sheet).text

    world.publishes(OBSERVATIONS, reminds=True)
    for where in ("/", page):
        assert overdue in words_of(pair.first.get(where).with_id("main"))
    assert "overdue" in charge.get(sheet).text
    assert pair.first.get(page).path == page
    after = pair.first.press("I observed the patient just now")

    assert (after.path, overdue in after.text) == (page, False)
    assert "Due: observe the patient, sedation first" in main_of(after)
    assert "The patient was observed; what was seen stands in the chart." in after.text
    assert overdue not in pair.first.get("/").text


def test_where_the_chart_reminds_nobody_says_here_that_it_was_made(pair: Pair) -> None:
    page = f"/infusion/{infusion_of(pair)}"
    token = next(
        value for form in pair.first.get("/").forms() for name, value in form.held if name == "csrf_token"
    )

    assert pair.first.post(f"{page}/observed", [("csrf_token", token)]).path == page
    assert "The patient was observed" not in pair.first.page.text
    assert pair.first.post("/infusion/none/observed", [("csrf_token", token)]).status == 404
