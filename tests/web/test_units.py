"""What the units are called, for the administrator alone."""

import pytest

from app.workflow.looking import unit_names
from tests.support.browser import Browser, Page
from tests.support.world import UNIT, World

NEW = "Ward 4 East, surgery"


def rename(browser: Browser, name: str, unit: str = UNIT) -> Page:
    browser.get("/units")
    return browser.post("/units", [("csrf_token", browser.token()), ("unit", unit), ("name", name)])


def test_a_unit_is_called_otherwise_on_every_page_at_once(world: World) -> None:
    page = rename(world.at("a.moreau"), f" {NEW} ")

    assert page.status == 200
    assert NEW in page.text
    assert NEW in world.browser().get("/sign-in").text
    assert NEW in world.at("n.ferrow").get("/").text


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "Write the name."),
        ("-", "Write a name of at most 60 characters"),
        ("x" * 61, "Write a name of at most 60 characters"),
        ("RECOVERY Room", "Another unit is called so."),
    ],
)
def test_what_is_refused_is_said_beside_its_field_and_stays_written(
    world: World, name: str, says: str
) -> None:
    before = unit_names(world.site)
    page = rename(world.at("a.moreau"), name)

    assert page.status == 422
    assert says in page.text
    assert f'value="{name}"' in page.body
    assert unit_names(world.site) == before


def test_a_unit_that_is_not_there_is_not_found(world: World) -> None:
    assert rename(world.at("a.moreau"), NEW, "nowhere").status == 404


@pytest.mark.parametrize("login", ["n.ferrow", "r.calloway", "q.lindqvist"])
def test_nobody_else_renames_a_unit(world: World, login: str) -> None:
    browser = world.at(login)
    assert browser.get("/units").status == 403
    assert "Units" not in browser.get("/").text
