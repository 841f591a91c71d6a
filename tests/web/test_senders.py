"""Who may send orders, for the administrator alone."""

import pytest

from app.people import Role
from app.workflow.order_senders import senders
from tests.factories.orders import as_both_read, order
from tests.story.orders import let_in, sends
from tests.support.browser import Browser, Page
from tests.support.world import World

NAME = "Orders of the house"
ADD = "Let it in: its token is shown once"


def add(browser: Browser, name: str) -> Page:
    browser.get("/senders")
    return browser.press(ADD, name=name)


def token_on(page: Page) -> str:
    return page.body.partition('<p class="one-time-code exact">')[2].partition("<")[0]


def test_a_token_is_shown_once_and_lets_its_system_in_until_it_is_revoked(world: World) -> None:
    browser = world.at("a.moreau")
    page = add(browser, f" {NAME} ")
    token = token_on(page)
    assert (page.status, len(token)) == (200, 43)
    assert sends(world.site, world.clock.now, token, as_both_read()).__class__.__name__ == "OrderTaken"

    again = browser.get("/senders")
    assert token not in again.body
    assert "Orders taken: 1." in again.text
    browser.press("Revoke: it is let in no more")
    assert "no order that it sent counts" in browser.page.text
    assert sends(world.site, world.clock.now, token, as_both_read()).__class__.__name__ == "NoSuchSender"
    assert "Revoke:" not in browser.page.text


def test_what_was_refused_is_counted_by_what_a_sender_is_told(world: World) -> None:
    token = let_in(world.site, world.clock.now)
    sends(world.site, world.clock.now, token, order(intent="plan"))
    text = world.at("a.moreau").get("/senders").text
    assert "Refused in the last 30 days: 1." in text
    assert "once not-an-order: Only an order is taken" in text


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "Write the name."),
        ("-", "Write a name of at most 60 characters"),
        ("ORDERS of the house", "Another sender has, or had, this name"),
    ],
)
def test_what_is_refused_is_said_beside_its_field_and_stays_written(
    world: World, name: str, says: str
) -> None:
    let_in(world.site, world.clock.now)
    page = add(world.at("a.moreau"), name)
    assert page.status == 422
    assert says in page.text
    assert f'value="{name}"' in page.body
    assert len(senders(world.site, world.clock.now)) == 1


def test_one_that_is_not_there_cannot_be_revoked(world: World) -> None:
    browser = world.at("a.moreau")
    browser.get("/senders")
    data = [("csrf_token", browser.token()), ("sender", "nobody")]
    assert browser.post("/senders/revoke", data).status == 404


def test_how_many_orders_came_is_told_to_nobody_who_may_meet_a_check(world: World) -> None:
    token = let_in(world.site, world.clock.now)
    sends(world.site, world.clock.now, token, as_both_read())
    administrator = world.person("a.moreau").id
    with world.site.store.write() as tx:
        tx.set_roles(administrator, frozenset({Role.ADMINISTRATOR, Role.NURSE}))
    page = world.at("a.moreau").get("/senders")
    assert NAME in page.text
    assert "taken" not in page.text


@pytest.mark.parametrize("login", ["n.ferrow", "r.calloway", "p.varga", "q.lindqvist"])
def test_nobody_else_sees_or_changes_who_may_send(world: World, login: str) -> None:
    browser = world.at(login)
    assert browser.get("/senders").status == 403
    assert "Senders of orders" not in browser.get("/").text
