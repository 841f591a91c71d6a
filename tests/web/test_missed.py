"""What both missed, as the quality team sees it on the page of trends, and as the command prints it."""

import copy
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from click.testing import CliRunner

from app.cli import main, missed
from app.records.canonical import canonical
from app.records.formats import READ
from app.review.true_cases import ORDERS, Against, case_of, true_sources
from app.words.missed import FEW, KNOWN
from tests.factories.many_checks import Found, Past, add_past, add_said
from tests.support.browser import Page, words_of
from tests.support.world import START, UNIT, World

LATE = START + timedelta(hours=1)
STOP = Found(code="device-differs", field="lockout")


def read_as(first: str, second: str) -> bytes:
    """A first round in which the two read these lockouts on the device; 8 min are ordered."""
    made = []
    for lockout in (first, second):
        sources = copy.deepcopy(true_sources(ORDERS[0]))
        sources["device"] |= {"lockout": lockout} if lockout else {}
        made.append(sources)
    case = case_of(made[0], made[1], Against(policy={}, library={}))
    return canonical({"format": READ.newest, "case": case})


BOTH, FIRST_ALONE, SECOND_ALONE = read_as("80 min", "80 min"), read_as("80 min", ""), read_as("", "80 min")


def checks(bed: str = "30", unit: str = UNIT) -> Iterator[tuple[Past, str]]:
    """Of nine errors the first caught eight, the second eight and both seven; and who misread each."""
    cases = [*[(BOTH, "")] * 7, (FIRST_ALONE, "B"), (SECOND_ALONE, "A")]
    for number, (case, misread) in enumerate(cases):
        name = f"{unit} {bed} {number}"
        yield Past(id=name, at=START, unit=unit, people=("", ""), found=(STOP,), case=case, bed=bed), misread


def add(world: World, some: Iterator[tuple[Past, str]], *, seconds: bool = True) -> None:
    ids = {login: world.person(login).id for login in ("n.ferrow", "t.osmund", "q.lindqvist", "p.varga")}
    world.clock.now = LATE
    with world.site.store.write() as tx:
        for past, misread in some:
            add_past(tx, replace(past, people=(ids["n.ferrow"], ids["t.osmund"])))
            said = (ids["q.lindqvist"], "B", misread), (ids["p.varga"], "C" if misread else "B", misread)
            add_said(tx, past.id, *said[: 1 + seconds])


def main_of(shown: Page) -> str:
    return words_of(shown.with_id("main"))


@pytest.fixture
def page(world: World) -> Page:
    add(world, checks())
    return world.at("q.lindqvist").get("/trends/missed")


def test_the_estimate_stands_with_its_definition_its_table_and_what_it_assumes(page: Page) -> None:
    text = main_of(page)

    assert "Of 9 errors the first nurse caught 8, the second 8 and both 7." in text
    for row in ("The first nurse alone 1", "The second nurse alone 1", "Both 7"):
        assert row in text, row
    for stands in ("An error counts as caught by a nurse where", "assumes that the two read independently"):
        assert stands in text, stands


def test_the_agreement_stands_with_its_table_and_no_reading_is_shown(page: Page) -> None:
    text = main_of(page)

    assert "Two people classified 9 findings, and 7 alike." in text
    assert "One of the two said the same of each: kappa is then 0" in text
    assert "80 min" not in page.text
    assert "8 min" not in page.text


def test_of_what_one_alone_classified_another_who_classifies_is_counted_nothing(world: World) -> None:
    add(world, checks(), seconds=False)
    text = main_of(world.at("p.varga").get("/trends/missed"))

    assert KNOWN in text
    assert FEW in text
    assert "Of 9 errors" in main_of(world.at("q.lindqvist").get("/trends/missed"))


def test_a_charge_nurse_has_the_own_unit_alone(world: World) -> None:
    add(world, checks(unit="recovery"))

    assert FEW in main_of(world.at("r.calloway").get("/trends/missed"))
    assert "Of 9 errors" in main_of(world.at("r.calloway", "recovery").get("/trends/missed"))


def test_whoever_reads_blind_at_a_bed_finds_no_error_of_it_counted(world: World) -> None:
    world.clock.now = LATE
    charge, _, _ = world.pair("r.calloway", "t.osmund")
    add(world, checks(bed="12"))

    assert FEW in main_of(charge.get("/trends/missed"))
    assert "Of 9 errors" in main_of(world.at("q.lindqvist").get("/trends/missed"))


def test_a_page_goes_by_the_newest_and_says_so(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.workflow.trends.MOST_ON_A_PAGE", 6)
    add(world, checks())

    assert "Of the newest 6 classified findings" in main_of(world.at("q.lindqvist").get("/trends/missed"))


def test_the_command_prints_the_same_of_whole_days(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    add(world, checks())
    monkeypatch.setattr(missed, "open_site", lambda _: world.site)
    monkeypatch.setattr(missed, "now", lambda: LATE)
    day = ["--from", "2031-05-02", "--to", "2031-05-02"]
    printed, elsewhere = (
        CliRunner().invoke(main, ["missed", *day, *more]) for more in ([], ["--unit", "recovery"])
    )
    nowhere = CliRunner().invoke(main, ["missed", *day, "--unit", "nowhere"])
    turned = CliRunner().invoke(main, ["missed", "--from", "2031-05-02", "--to", "2031-05-01"])

    assert printed.exit_code == 0, printed.output
    assert "Of 9 errors the first nurse caught 8" in printed.output
    assert "  Second: C" in printed.output
    assert "min" not in printed.output.split()
    assert FEW in elsewhere.output
    assert (nowhere.exit_code, turned.exit_code) == (2, 2)
