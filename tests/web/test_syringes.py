"""The controlled-drug officer's page of syringes that do not add up."""

from datetime import UTC, datetime

import pytest

from app.web.forms.syringes import find_account_place, write_account_place
from app.web.models.syringes import infusions_apart
from app.workflow.syringes import AccountsApart
from tests.story.ward import Ward
from tests.support.world import World
from tests.workflow.test_syringes import run_short, seen


def test_the_officer_has_the_way_to_it_and_nothing_else_of_any_check(world: World) -> None:
    officer = world.at("o.hale")
    page = officer.follow("Syringes that do not add up, with their people")

    assert "Every account added up." in page.text
    for path in ("/findings", "/trends", "/export"):
        assert officer.get(path).status == 403, path


def test_nobody_else_has_it(world: World) -> None:
    for login in ("n.ferrow", "r.calloway", "q.lindqvist"):
        assert world.at(login).get("/syringes").status == 403


def test_each_syringe_stands_with_its_difference_and_who_read(one_ward: Ward) -> None:
    run_short(one_ward).both_sign()
    found = seen(one_ward)
    (infusion,) = infusions_apart(found, {})
    (syringe,) = infusion.syringes

    assert syringe.volume.endswith("mL")
    assert syringe.amount.endswith("mg")
    assert infusion.says
    assert [each.people for each in infusion.checks] == [("Nadia Ferrow", "Tomas Osmund")] * 2
    assert infusions_apart(AccountsApart(accounts=(), people={}, next_after=None), {}) == ()


def test_a_place_in_the_address_is_read_back_and_anything_else_begins_anew() -> None:
    place = (datetime(2031, 5, 2, 12, tzinfo=UTC), "a check")

    assert find_account_place(write_account_place(place)) == place


@pytest.mark.parametrize("text", ["", "soon~a", "2031-05-02T12:00:00~a", "2031-05-02T12:00:00+00:00~"])
def test_what_is_no_place_is_none(text: str) -> None:
    assert find_account_place(text) is None
