from pathlib import Path

import pytest
from sqlalchemy import text as sql

from app.records.canonical import digest
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers
from tests.story.pages import Pair, at_steps, cleared, compared, started
from tests.support.browser import words_of
from tests.support.tampering import as_database_administrator
from tests.support.world import World


def issue(pair: Pair) -> None:
    """What the server's own loop does."""
    sweep_once(pair.world.site, pair.world.clock.now, holder="test")


def test_until_the_pdf_is_made_the_page_says_so(world: World) -> None:
    pair = cleared(world)
    page = pair.page(pair.first, "/record")
    assert "Both have signed, record being made." in page.text
    assert "Save the record as PDF" not in page.text
    assert pair.page(pair.first, "/record.pdf").status == 404
    issue(pair)
    page = pair.page(pair.first, "/record")
    assert "Save the record as PDF" in page.links()


def test_the_pdf_is_the_stored_bytes_under_a_name_without_a_patient(world: World) -> None:
    pair = cleared(world)
    issue(pair)
    response = pair.page(pair.second, "/record.pdf").response
    with world.site.store.read() as reader:
        kept = reader.find_pdf(pair.check, 1)
    assert kept is not None
    assert response.get_data() == kept.content
    assert response.get_data().startswith(b"%PDF-")
    assert response.mimetype == "application/pdf"
    assert response.headers["Cache-Control"] == "no-store"
    name = response.headers["Content-Disposition"]
    assert name == f'attachment; filename="countersign-record-{pair.check[:8]}-1.pdf"'


@pytest.mark.parametrize("with_its_digest", [False, True])
def test_a_pdf_that_is_not_the_issued_one_is_not_handed_out(
    world: World, tmp_path: Path, *, with_its_digest: bool
) -> None:
    pair = cleared(world)
    issue(pair)
    other = b"%PDF-1.7 another"
    with as_database_administrator(f"sqlite:///{tmp_path / 'world.sqlite3'}") as connection:
        connection.execute(sql("UPDATE pdf SET content = :other"), {"other": other})
        if with_its_digest:
            connection.execute(sql("UPDATE pdf SET digest = :digest"), {"digest": digest(other)})
    page = pair.page(pair.first, "/record.pdf")
    assert page.status == 500
    assert "The stored PDF is not the one that was issued" in page.text
    assert "another" not in page.body


def test_the_record_shows_both_readings_and_what_came_of_each_finding(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}, chart={"sedatives": "charted"}))
    pair.put_right("label", answers())
    pair.consider()
    pair.take_steps()
    pair.sign()
    text = pair.page(pair.first, "/record").text
    for stands in (
        "Nadia Ferrow, DM-2001",
        "Tomas Osmund, DM-2002",
        "Reading 1 two screens, overlapping in time",
        "FIVE TIMES",
        "30 mg in 30 mL",
        "Reading 2 two screens, overlapping in time",
        "Patient at risk, first nurse",
        "Patient at risk, second nurse",
        "0: awake",
    ):
        assert stands in text, stands
    tables = [words_of(each) for each in pair.first.page.all("table")]
    label = next(each for each in tables if each.startswith("Label"))
    assert "Amount of drug in the syringe 6 mg 6 mg" in label


def test_what_an_exception_set_aside_stands_in_the_record(world: World) -> None:
    above = answers(order={"demand_dose": "0.7 mg"}, device={"demand_dose": "0.7 mg"})
    pair = compared(world, above)
    pair.page(pair.first, "/help")
    pair.first.press("Ask for help", why="rule")
    helper = world.at("p.varga")
    pair.page(helper)
    helper.press("Take this request")
    (stop,) = pair.state.open_stops
    helper.press("Set this rule aside", finding=stop.key, reason="tolerant", prescriber="Dr Invented")
    helper.press("Give the check back", outcome="other", more="rang the prescriber")
    pair.consider()
    pair.take_steps()
    pair.sign()
    text = pair.page(pair.first, "/record").text
    assert "Above the drug library's hard limit set aside once by Petra Varga: tolerant" in text
    assert "tolerant (prescriber: Dr Invented)" in text
    assert "rang the prescriber" in text


def test_there_is_no_record_before_the_steps_are_done(world: World) -> None:
    pair = at_steps(world)
    assert pair.page(pair.first, "/record").status == 404


@pytest.mark.parametrize(
    ("login", "unit", "status"),
    [
        ("r.calloway", "ward-4-east", 200),
        ("q.lindqvist", "recovery", 200),
        ("p.varga", "recovery", 200),
        ("i.bexley", "recovery", 404),
        ("a.moreau", "ward-4-east", 403),
    ],
)
def test_who_may_read_a_cleared_record(world: World, login: str, unit: str, status: int) -> None:
    pair = cleared(world)
    issue(pair)
    browser = world.at(login, unit)
    assert pair.page(browser, "/record").status == status
    assert pair.page(browser, "/record.pdf").status == status


def test_a_look_at_a_record_is_noted(world: World) -> None:
    pair = cleared(world)
    pair.page(world.at("r.calloway"), "/record")
    infusion = pair.state.check.infusion
    with world.site.store.read() as reader:
        looks = reader.accesses_of_infusion(infusion)
    charge = world.person("r.calloway").id
    assert [each.what for each in looks if each.person == charge] == ["record"]


def ended(world: World) -> Pair:
    """Started, and stopped for good an hour ago; both have signed in anew since."""
    pair = started(world)
    issue(pair)
    pair.page(pair.first, "/stop")
    pair.first.press("with what stands above", why="end-of-therapy", totals="4 mg, 20 presses")
    world.clock.pass_(hours=1)
    for browser, login in zip(pair.both, pair.logins, strict=True):
        world.sign_in(browser, login)
    return pair


def test_what_followed_stands_beside_the_record_once_it_is_told(world: World) -> None:
    pair = ended(world)
    link = "Save what followed the record as PDF"
    assert link not in pair.page(pair.first, "/record").text
    assert pair.page(pair.first, "/what-followed-1.pdf").status == 404

    issue(pair)

    page = pair.page(pair.first, "/record")
    assert link in page.links()
    assert "Beside the record and no part of it: sealed by the site, signed by nobody." in page.text
    response = pair.page(pair.first, "/what-followed-1.pdf").response
    with world.site.store.read() as reader:
        (kept,) = reader.followed(pair.check)
    assert response.get_data() == kept.content
    assert response.get_data().startswith(b"%PDF-")
    name = response.headers["Content-Disposition"]
    assert name == f'attachment; filename="countersign-what-followed-{pair.check[:8]}-1.pdf"'
    assert pair.page(pair.first, "/what-followed-2.pdf").status == 404


@pytest.mark.parametrize(
    ("login", "unit", "status"),
    [
        ("r.calloway", "ward-4-east", 200),
        ("q.lindqvist", "recovery", 200),
        ("i.bexley", "recovery", 404),
        ("a.moreau", "ward-4-east", 403),
    ],
)
def test_whoever_may_read_the_record_may_read_what_followed_and_the_look_is_noted(
    world: World, login: str, unit: str, status: int
) -> None:
    pair = ended(world)
    issue(pair)

    assert pair.page(world.at(login, unit), "/what-followed-1.pdf").status == status

    infusion, who = pair.state.check.infusion, world.person(login).id
    with world.site.store.read() as reader:
        looks = reader.accesses_of_infusion(infusion)
    noted = [each.what for each in looks if each.person == who]
    assert noted == (["what followed"] if status == 200 else [])


def test_whoever_reads_blind_at_the_bed_sees_nothing_of_what_followed_before(world: World) -> None:
    pair = ended(world)
    issue(pair)
    before = f"/check/{pair.check}/what-followed-1.pdf"
    assert pair.first.get(before).status == 200

    world.open_check(pair.first, pair.bed)

    assert pair.first.get(before).status == 404


def test_what_followed_that_is_not_as_issued_is_not_handed_out(world: World, tmp_path: Path) -> None:
    pair = ended(world)
    issue(pair)
    with as_database_administrator(f"sqlite:///{tmp_path / 'world.sqlite3'}") as connection:
        connection.execute(sql("UPDATE what_followed SET content = :other"), {"other": b"%PDF-1.7 another"})

    page = pair.page(pair.first, "/what-followed-1.pdf")

    assert page.status == 500
    assert "The stored PDF is not the one that was issued" in page.text
    assert "another" not in page.body
