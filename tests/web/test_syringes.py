"""The controlled-drug officer's page of syringes that do not add up."""

import csv
import io
from datetime import UTC, datetime

import pytest

from app.config import root
from app.reports.syringe_table import COLUMNS, write_syringe_table
from app.web.forms.syringes import find_account_place, write_account_place
from app.web.models.syringes import infusions_apart
from app.workflow.syringes import AccountsApart
from tests.factories.answers import SHORT
from tests.story.pages import started
from tests.story.ward import Ward
from tests.support.browser import words_of
from tests.support.world import World
from tests.workflow.test_syringes import run_short, seen

TAKE = "Take these away as a table (CSV)"


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

    assert syringe.volume.startswith("+")
    assert syringe.volume.endswith("mL")
    assert syringe.amount.endswith("mg")
    assert infusion.says
    two = ("Nadia Ferrow", "Tomas Osmund")
    assert [(each.what, tuple(one.name for one in each.people)) for each in infusion.done] == [
        ("Set-up", two),
        ("Loaded and started", two),
        ("Re-check", two),
    ]
    assert infusions_apart(AccountsApart(accounts=(), people={}, next_after=None), {}) == ()


def test_it_is_filtered_and_taken_away_as_a_table_with_names_by_whoever_gives_the_secret(
    world: World,
) -> None:
    pair = started(world)
    pair.re_checks()
    pair.read(SHORT)
    pair.page(pair.first)
    pair.first.press("Count together")
    pair.read(SHORT)
    pair.page(pair.first)
    pair.both_sign()
    officer = world.at("o.hale")
    page = officer.get("/syringes")
    number = world.person("n.ferrow").staff_number
    assert f"read by Nadia Ferrow ({number})" in words_of(page.with_id("main"))
    own = officer.get(page.links()[number])
    assert own.path == f"/syringes?staff_number={number}"
    assert "Nadia Ferrow" in own.text
    assert "Nobody has this staff number." in officer.get("/syringes?staff_number=none").text
    assert officer.get("/syringes?first=soon").status == 422
    assert officer.get("/syringes?last=9999-12-31").status == 422

    officer.get("/syringes")
    refused = officer.press(TAKE)
    assert refused.status == 422
    assert "write both days, at most a year apart" in refused.text
    officer.get("/syringes?first=2031-05-02&last=2031-05-03")
    taken = officer.press(TAKE).response
    assert taken.mimetype == "text/csv"
    rows = list(csv.DictReader(io.StringIO(taken.get_data(as_text=True), newline=""), strict=True))
    assert [each["difference"] for each in rows if each["row"] == "syringe"] != []
    assert {each["name"] for each in rows if each["row"] == "person"} == {"Nadia Ferrow", "Tomas Osmund"}


def test_no_cell_of_the_table_is_a_formula() -> None:
    written = write_syringe_table([{"row": "person", "name": "=1+1", "volume": "+2.4 mL"}])

    assert b'"\'=1+1"' in written
    assert b'"\'+2.4 mL"' in written


def test_the_page_for_people_describes_every_column() -> None:
    page = (root() / "app" / "reports" / "EXPORT.md").read_text(encoding="utf-8")
    table, _, _ = page.partition("## Syringes that do not add up")[2].partition("## What was read")

    assert [line for line in table.splitlines() if line.startswith("| `")] == [
        f"| `{name}` | {says} |" for name, says in COLUMNS.items()
    ]


def test_a_place_in_the_address_is_read_back_and_anything_else_begins_anew() -> None:
    place = (datetime(2031, 5, 2, 12, tzinfo=UTC), "a check")

    assert find_account_place(write_account_place(place)) == place


@pytest.mark.parametrize("text", ["", "soon~a", "2031-05-02T12:00:00~a", "2031-05-02T12:00:00+00:00~"])
def test_what_is_no_place_is_none(text: str) -> None:
    assert find_account_place(text) is None
