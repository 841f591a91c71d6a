import csv
import io
import json

import pytest

from app.records.events import Exported
from tests.factories.answers import answers
from tests.story.pages import DONE_BUTTON, VERIFIED_BUTTON, Pair, cleared, compared
from tests.support.browser import Page
from tests.support.world import World


def export(world: World, login: str = "q.lindqvist", **given: str) -> Page:
    """Ask for an export."""
    browser = world.at(login)
    browser.get("/export")
    page = browser.press("Export", **{"first": "2031-05-01", "last": "2031-05-03", "form": "jsonl", **given})
    page.response.get_data()  # it streams: only now is all of it read
    return page


def test_json_lines_are_the_signed_bytes(world: World) -> None:
    pair = cleared(world)
    page = export(world)
    with world.site.store.read() as reader:
        (frozen,) = reader.frozen_records(pair.check)
    assert page.response.get_data() == frozen.document + b"\n"
    assert json.loads(page.response.get_data())["record"] == pair.check
    assert page.response.headers["Content-Disposition"] == (
        'attachment; filename="countersign-2031-05-01-to-2031-05-03.jsonl"'
    )
    assert page.response.headers["Cache-Control"] == "no-store"


def test_the_table_has_a_line_for_each_finding(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    pair.put_right("label", answers())
    pair.take_steps()
    pair.sign()
    page = export(world, form="csv")
    assert page.response.mimetype == "text/csv"
    rows = list(csv.DictReader(io.StringIO(page.response.get_data(as_text=True))))
    stops = [row for row in rows if row["severity"] == "stop"]
    assert [(row["code"], row["settled"], row["factor"]) for row in stops] == [
        ("label-differs", "put right", "5")
    ]


def test_an_open_or_ended_check_is_not_exported(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    assert export(world).response.get_data() == b""
    pair.page(pair.first, "/abandon")
    pair.first.press("End this check", reason="time")
    assert export(world).response.get_data() == b""


def test_other_days_are_not_exported(world: World) -> None:
    cleared(world)
    assert export(world, first="2031-04-01", last="2031-05-01").response.get_data() == b""


def test_each_export_is_in_the_log(world: World) -> None:
    export(world, "p.varga", form="csv")
    with world.site.store.read() as reader:
        exports = [
            each for each in reader.log_entries(after=0, limit=1000) if isinstance(each.event, Exported)
        ]
    assert [(each.by, each.event) for each in exports] == [
        (
            world.person("p.varga").id,
            Exported(form="csv", from_date="2031-05-01", to_date="2031-05-03"),
        )
    ]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"first": "1.5.2031"}, "Write a date as year-month-day"),
        ({"last": ""}, "Write the last day."),
        ({"first": "2031-05-04"}, "The last day lies before the first."),
    ],
)
def test_days_that_cannot_be_read_are_said_so_and_kept(
    world: World, given: dict[str, str], says: str
) -> None:
    page = export(world, **given)
    assert page.status == 422
    assert says in page.text
    held = dict(page.form_with("Export")[0].held)
    assert held | given == held


@pytest.mark.parametrize("login", ["n.ferrow", "r.calloway", "a.moreau"])
def test_who_may_not_export(world: World, login: str) -> None:
    browser = world.at(login)
    assert browser.get("/export").status == 403
    browser.get("/")
    sent = [("csrf_token", browser.token()), ("first", "2031-05-01"), ("last", "2031-05-03"), ("form", "csv")]
    assert browser.post("/export", sent).status == 403


def test_what_was_signed_later_replaces_the_edition_before(world: World) -> None:
    pair: Pair = cleared(world)
    pair.page(pair.first, "/start")
    pair.first.press("It differs")
    pair.first.press("Read the device again")
    pair.read(answers())
    while not pair.state.steps_complete:
        pair.tick(pair.first, DONE_BUTTON)
        pair.tick(pair.second, VERIFIED_BUTTON)
    pair.sign()
    (line,) = export(world).response.get_data().splitlines()
    assert json.loads(line)["edition"] == 2
