import csv
import hashlib
import io
import json
from contextlib import suppress

import pytest

from app.records.export_events import Exported
from app.reports.manifest import SignedManifest, read_manifest
from app.workflow import export_apart
from app.workflow.export_jobs import TRIES, Job, jobs
from app.workflow.exporting import tend_exports
from tests.factories.answers import answers
from tests.story.pages import cleared, compared, started
from tests.support.browser import Browser, Page
from tests.support.world import World


@pytest.fixture(autouse=True)
def _made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked for is made before the answer; `waits` has it wait."""
    monkeypatch.setattr(export_apart, "start", export_apart.make_here)


@pytest.fixture
def waits(_made_here: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(export_apart, "start", lambda *_: None)


def ask(world: World, login: str = "q.lindqvist", **given: str) -> Browser:
    """Ask for an export."""
    browser = world.at(login)
    browser.get("/export")
    browser.press("Export", **{"first": "2031-05-01", "last": "2031-05-03", "form": "jsonl", **given})
    return browser


def export(world: World, login: str = "q.lindqvist", **given: str) -> Page:
    """Ask for an export, and take it."""
    browser = ask(world, login, **given)
    return browser.get(str(browser.page.links()["Take the file"]))


def test_json_lines_hold_the_signed_bytes(world: World) -> None:
    pair = started(world)
    page = export(world)
    with world.site.store.read() as reader:
        (frozen,) = reader.frozen_records(pair.check)
    check, record = page.response.get_data().splitlines()
    assert record == frozen.document
    assert json.loads(check)["check"] == json.loads(record)["record"] == pair.check
    assert page.response.headers["Content-Disposition"] == (
        'attachment; filename="countersign-2031-05-01-to-2031-05-03.jsonl"'
    )
    assert page.response.headers["Cache-Control"] == "no-store"


def test_the_table_has_a_line_for_each_finding(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    pair.put_right("label", answers())
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    page = export(world, form="csv")
    assert page.response.mimetype == "text/csv"
    rows = list(csv.DictReader(io.StringIO(page.response.get_data(as_text=True))))
    stops = [row for row in rows if row["severity"] == "stop"]
    assert [(row["code"], row["settled"], row["factor"]) for row in stops] == [
        ("label-differs", "put right", "5")
    ]


def test_an_open_check_is_not_exported_and_one_that_was_given_up_is(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    assert export(world).response.get_data() == b""
    pair.page(pair.first, "/abandon")
    pair.first.press("Give this check up", reason="time")
    assert json.loads(export(world).response.get_data())["how"] == "abandoned"


def test_what_was_read_cannot_be_de_identified(world: World) -> None:
    started(world)
    assert export(world, form="readings").response.mimetype == "text/csv"
    refused = ask(world, form="readings", deidentified="yes").page
    assert refused.status == 422
    assert "What was read names people" in refused.text


def test_other_days_are_not_exported(world: World) -> None:
    started(world)
    assert export(world, first="2031-04-01", last="2031-05-01").response.get_data() == b""


def test_each_export_is_in_the_log(world: World) -> None:
    export(world, "p.varga", form="csv")
    with world.site.store.read() as reader:
        exports = [
            each for each in reader.log_entries(after=0, limit=1000) if isinstance(each.event, Exported)
        ]
    (told,) = exports
    assert told.by == world.person("p.varga").id
    assert isinstance(told.event, Exported)
    assert (told.event.form, told.event.from_date, told.event.to_date) == ("csv", "2031-05-01", "2031-05-03")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"first": "1.5.2031"}, "Write a date as year-month-day"),
        ({"last": "9999-12-31"}, "a year from 1900 to 2999"),
        ({"last": ""}, "Write the last day."),
        ({"first": "2031-05-04"}, "The last day lies before the first."),
        ({"deidentified": "yes"}, "De-identified it covers at least 31 days up to today"),
    ],
)
def test_days_that_cannot_be_read_are_said_so_and_kept(
    world: World, given: dict[str, str], says: str
) -> None:
    page = ask(world, **given).page
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


@pytest.mark.usefixtures("waits")
def test_whoever_waits_sees_how_far_it_is_and_nobody_else_sees_anything(world: World) -> None:
    browser = ask(world)
    page, job = browser.page, jobs(world.site.exports)[0]
    address = page.path
    (asks,) = (each.attrib["data-refresh"] for each in page.all("p") if "data-refresh" in each.attrib)

    assert "waits for its turn" in page.text
    assert browser.get(asks).status == 204
    assert browser.get(f"{address}/file").status == 404
    for login in ("p.varga", "n.ferrow"):
        assert world.at(login).get(asks).status == 200
    assert world.browser().get(asks).status == 200
    assert world.at("p.varga").get(address).status == 404
    job.tell(500)
    assert browser.get(asks).status == 200
    export_apart.make_here(world.site, job)
    made = browser.get(address)
    assert "It is ready." in made.text
    assert not [each for each in made.all("p") if "data-refresh" in each.attrib]
    assert world.at("p.varga").get(f"{address}/file").status == 404


def test_the_manifest_is_taken_beside_the_file(world: World) -> None:
    cleared(world)
    browser = ask(world)
    page = browser.page
    content = browser.get(str(page.links()["Take the file"])).response.get_data()
    told = read_manifest(browser.get(str(page.links()["Take its manifest"])).response.get_data())

    assert isinstance(told, SignedManifest)
    (part,) = told.manifest.parts
    assert part.sha256 == hashlib.sha256(content).hexdigest()
    assert part.sha256 in page.text


def test_what_could_not_be_made_says_so(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def killed(_site: object, job: Job) -> None:
        with suppress(OSError), job.begin():
            raise OSError

    monkeypatch.setattr(export_apart, "start", killed)
    browser = ask(world)
    assert "waits for its turn" in browser.page.text
    for _ in range(TRIES - 1):
        tend_exports(world.site, world.clock.now)
    assert "It could not be made." in browser.get(browser.page.path).text
    assert "It could not be made." in browser.get("/export").text
