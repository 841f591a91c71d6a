from datetime import timedelta

from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import (
    DONE_BUTTON,
    SECOND_NURSE,
    VERIFIED_BUTTON,
    Pair,
    at_steps,
    cleared,
    compared,
)
from tests.support.browser import words_of
from tests.support.world import World

SAME, DIFFERS, STARTED = "The device shows exactly this", "It differs", "Started: the infusion runs"


def look(pair: Pair, tail: str = "/start") -> str:
    """The words of the page of the last look."""
    return pair.page(pair.first, tail).text


def test_the_agreed_values_stand_there_and_when_the_clearance_lapses(world: World) -> None:
    pair = cleared(world)
    text = words_of(pair.page(pair.first, "/start").with_id("main"))
    for stands in (
        "HYDROmorphone",
        "0.2 mg/mL",
        "Demand only",
        "0.2 mg",
        "10 min",
        "No continuous part",
        "2 mg in 4 h",
        "until 13:15, 15 min left",
    ):
        assert stands in text, stands
    assert "DM-40417" not in text


def test_each_looks_and_then_it_starts(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.first, "/start")
    page = pair.first.press(SAME)
    assert page.heading == "You have looked: Tomas Osmund looks next"
    pair.page(pair.second, "/start")
    page = pair.second.press(SAME)
    # The program starts nothing.
    assert page.heading == "Both have looked: start the infusion now"
    assert STARTED in page.text
    token = [("csrf_token", pair.second.token())]
    page = pair.second.press(STARTED)
    assert page.path.endswith("/record")
    assert pair.phase() is Phase.STARTED
    assert pair.page(pair.first, "").heading == "The infusion was started"
    # The second half of a double press, which arrives when the first has started it.
    again = pair.second.post(f"/check/{pair.check}/start", token)
    assert again.path.endswith("/record")


def test_both_look_on_one_screen(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.first, "/start")
    pair.first.press(SAME)
    pair.page(pair.first, "/start?by=2")
    refused = pair.first.press(SAME, login=SECOND_NURSE, secret="wrong")
    assert refused.status == 422
    assert pair.state.last_looks == {1}
    pair.first.press(SAME, login=SECOND_NURSE, secret=world.secrets[SECOND_NURSE])
    assert pair.state.last_looks == {1, 2}


def test_it_does_not_start_before_both_have_looked(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.first, "/start")
    page = pair.first.post(f"/check/{pair.check}/start", [("csrf_token", pair.first.token())])
    assert page.status == 409
    assert "Each of the two takes a last look first." in page.text
    assert pair.state.started_at is None


def test_a_look_must_say_which_it_is(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.first, "/start")
    page = pair.first.post(f"/check/{pair.check}/last-look", [("csrf_token", pair.first.token())])
    assert page.status == 422
    assert "Look at the device, then say which it is." in page.text


def test_where_it_differs_the_device_is_read_again_and_a_new_edition_follows(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.second, "/start")
    page = pair.second.press(DIFFERS)
    assert "No longer ready to start" in page.text
    assert pair.phase() is Phase.LAPSED
    page = pair.second.press("Read the device again")
    assert page.path.endswith("/read/device")
    pair.read(answers())
    while not pair.state.steps_complete:
        pair.tick(pair.first, DONE_BUTTON)
        pair.tick(pair.second, VERIFIED_BUTTON)
    pair.sign()
    pair.look()
    pair.start()
    assert pair.phase() is Phase.STARTED
    assert pair.state.edition == 2


def test_after_its_time_the_clearance_has_lapsed(world: World) -> None:
    pair = cleared(world)
    world.clock.now += timedelta(minutes=15, seconds=1)
    for browser, login in ((pair.first, "n.ferrow"), (pair.second, SECOND_NURSE)):
        world.sign_in(browser, login)
    page = pair.page(pair.first, "/start")
    assert page.path == f"/check/{pair.check}"
    assert "No longer ready to start" in page.text
    assert "Read the device again" in page.text


def test_a_device_that_was_touched_is_read_again(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.first)
    page = pair.first.press("Read all of it again, each alone", touched="device")
    assert page.path.endswith("/read/device")
    assert pair.phase() is Phase.READING


def test_before_clearance_there_is_no_last_look(world: World) -> None:
    pair = at_steps(world)
    assert pair.page(pair.first, "/start").path == f"/check/{pair.check}"
    pair.page(pair.first, "/help")
    sent = [("csrf_token", pair.first.token()), ("same", "yes")]
    assert pair.first.post(f"/check/{pair.check}/last-look", sent).path == f"/check/{pair.check}"
    assert pair.state.last_looks == frozenset()


def test_the_last_look_is_the_two_nurses(world: World) -> None:
    pair = cleared(world)
    assert pair.page(world.at("r.calloway"), "/start").status == 404


def test_a_continuous_part_is_looked_at(world: World) -> None:
    both = {"mode": "demand-and-continuous", "continuous_rate": "0.1 mg/h"}
    pair = compared(world, answers(order=both, device=both, chart={"opioid_tolerant": "yes"}))
    pair.consider()
    pair.take_steps()
    pair.sign()
    text = look(pair)
    assert "0.1 mg/h" in text
    assert "No continuous part" not in text
