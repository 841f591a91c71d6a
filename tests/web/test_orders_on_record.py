"""The order of another system on the pages of its patient's check, and as it came."""

import pytest

from tests.factories.answers import answers
from tests.factories.orders import as_both_read, as_message
from tests.story.orders import let_in, sends
from tests.story.pages import Pair, joined
from tests.support.browser import Page
from tests.support.world import World

WORDS = "Compared also with the order on record: A-1001 of Orders of the house, received 2 May 2031"
LINK = "The order as it came: A-1001 of Orders of the house"
MESSAGE = as_message(as_both_read())


@pytest.fixture
def pair(world: World) -> Pair:
    """One order waits for the patient of a check that two have joined."""
    made = joined(world)
    sends(world.site, world.clock.now, let_in(world.site, world.clock.now), MESSAGE)
    return made


def comparison(pair: Pair, login: str = "") -> Page:
    browser = pair.world.at(login) if login else pair.first
    return browser.get(f"/check/{pair.check}")


def order_id(world: World) -> str:
    with world.site.store.read() as reader:
        (row,) = reader.rows("order_message")
    return str(row["id"])


def test_comparison_and_record_name_it_with_when_it_came(pair: Pair) -> None:
    pair.read(answers())
    assert WORDS in comparison(pair).text
    pair.take_steps()
    assert WORDS in pair.first.get(f"/check/{pair.check}/record").text


def test_another_dose_on_record_stands_against_a_start(world: World) -> None:
    pair = joined(world)
    token = let_in(world.site, world.clock.now)
    sends(world.site, world.clock.now, token, as_both_read(dose=0.4))
    pair.read(answers())
    text = comparison(pair).text
    assert "0.4 mg in the record, 0.2 mg as read" in text
    assert WORDS in text


def test_two_active_orders_are_to_be_considered_and_none_is_named_as_compared(world: World) -> None:
    pair = joined(world)
    token = let_in(world.site, world.clock.now)
    for name in ("A-1001", "A-1002"):
        sends(world.site, world.clock.now, token, as_both_read(named=name, dose=0.4))
    pair.read(answers())
    text = comparison(pair).text
    assert "ORDERS UNCLEAR" in text
    assert "A-1001 of Orders of the house and A-1002 of Orders of the house" in text
    assert "Compared also" not in text


def test_a_pharmacist_and_quality_may_see_the_message_once_the_check_has_ended(pair: Pair) -> None:
    pair.read(answers())
    address = f"/check/{pair.check}/order/{order_id(pair.world)}"
    for login in ("p.varga", "q.lindqvist"):
        assert pair.world.at(login).get(address).status == 404
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    for login in ("p.varga", "q.lindqvist"):
        assert LINK in comparison(pair, login).text
        answer = pair.world.at(login).client.get(address, base_url="https://localhost")
        assert (answer.status_code, answer.get_data()) == (200, MESSAGE)
        assert answer.mimetype == "application/fhir+json"
    with pair.world.site.store.read() as reader:
        looked = [row["person"] for row in reader.rows("access") if row["what"] == "order as it came"]
    assert len(looked) == 2
    assert LINK not in comparison(pair).text
    for login in ("n.ferrow", "r.calloway", "a.moreau"):
        assert pair.world.at(login).get(address).status == 403


def test_an_order_that_took_no_part_is_nobodys_to_see(pair: Pair) -> None:
    token = let_in(pair.world.site, pair.world.clock.now, "Another")
    sends(pair.world.site, pair.world.clock.now, token, as_both_read("DM-77777", named="B-1"))
    with pair.world.site.store.read() as reader:
        other = next(row["id"] for row in reader.rows("order_message") if row["patient"] == "dm77777")
    pair.read(answers())
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    assert pair.world.at("p.varga").get(f"/check/{pair.check}/order/{other}").status == 404
