"""Lists say where and since when; drug and dose stand one tap further."""

import pytest

from app.records import account
from app.records.events import END_OF_THERAPY
from app.records.state import Phase
from app.web.models import infusion_told
from app.workflow import stopping
from tests.factories.answers import answers
from tests.story.pages import Pair, pair_of
from tests.support.browser import Page, words_of
from tests.support.walking import asked
from tests.support.world import UNIT, World

VALUES = ("HYDROmorphone", "0.2 mg", "10 min", "2 mg in 4 h")


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def running(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


def test_what_runs_is_listed_without_any_value_and_opens_on_what_is_in_force(world: World) -> None:
    running(world)
    charge = world.at("r.calloway")
    for path in ("/", "/shift-sheet"):
        said = main_of(charge.get(path))
        assert "running" in said
        assert not [value for value in VALUES if value in said], path
    charge.get("/")
    page = charge.follow("Show")
    said = main_of(page)
    assert words_of(next(page.all("title"))) == "Infusion: running"
    assert [value for value in VALUES if value not in said] == []
    assert "This look is written down." in said
    assert charge.follow("The check that put it in force").heading == "The infusion was started"


def test_it_is_closed_to_the_two_who_read_it_again(world: World) -> None:
    pair = running(world)
    infusion = pair.state.check.infusion
    pair.re_checks()
    for browser in pair.both:
        said = main_of(browser.get(f"/infusion/{infusion}"))
        assert "closed to you for now" in said
        assert not [value for value in VALUES if value in said]
    charge = world.at("r.calloway")
    assert "0.2 mg" in main_of(charge.get(f"/infusion/{infusion}"))


def test_without_a_check_it_says_that_nothing_is_known(world: World) -> None:
    nurse = world.at("n.ferrow")
    nurse.get("/started-without-check")
    nurse.press("Write it down", unit=UNIT, bed="31", reason="nobody was free")
    nurse.get("/")
    said = main_of(nurse.follow("All of this infusion"))
    assert nurse.page.path == f"/infusion/{infusion_at(world, '31')}"
    assert "nothing is known here" in said
    assert "Due: two nurses check it, blind, by 2 May 2031, 13:30" in said
    assert "Started without a check. nobody was free" in said
    assert nurse.get("/infusion/none").status == 404


def again(pair: Pair, **span: float) -> None:
    """Later: both sign in anew."""
    pair.world.clock.pass_(**span)
    for browser, login in zip(pair.both, pair.logins, strict=True):
        pair.world.sign_in(browser, login)


def test_one_page_tells_what_happened_what_is_due_and_where_it_went(world: World) -> None:
    """9 doses of 0.2 mg at 0.2 mg/mL: 9 mL; 30 - 2.3 primed - 18.5 left is 0.2 mL more than that."""
    pair = running(world)
    infusion = pair.state.check.infusion
    again(pair, hours=8)
    pair.re_checks()
    totals = {"total_amount": "1.8 mg", "presses": "12", "doses": "9", "left": "18.5 mL"}
    pair.read(answers(totals=totals))
    pair.sign()
    again(pair, hours=13)

    page = world.at("r.calloway").get(f"/infusion/{infusion}")
    said = main_of(page)
    for words in (
        "Nadia Ferrow answers for it now.",
        "Syringe low: ask pharmacy for the next one. It was due by 3 May 2031, 09:00 (+01:00).",
        # 18.5 mL at 9.2 mL in 8 h are 16 h from 21:00 on: the syringe's day is over before.
        "By use so far 3 May 2031, 13:00 (+01:00) it has been on for as long as the site lets it",
        "By its label to be used by 31 December 2031, 23:59",
        "By what was read up to 2 May 2031, 21:00 (+01:00).",
        "It adds up, within what device and scale may be off.",
        # What the picture is called.
        "Syringe 1: In it, by its label 30 mL; Primed, off the patient 2.3 mL; Given, by the device's totals",
        "Given, by the device's totals 9 mL",
        "Left in it 18.5 mL",
        "Difference 0.2 mL",
        "Read: totals 1.8 mg, 12 presses and 9 doses given, 18.5 mL left.",
        "Settings in force: demand only, each demand 0.2 mg, lockout 10 min, limit 2 mg in 4 h.",
        "Syringe 1: 6 mg, 30 mL.",
        "Nadia Ferrow and Tomas Osmund",
    ):
        assert words in said.replace("\N{NO-BREAK SPACE}", " "), words
    # The newest first.
    happened = said.rpartition("What happened")[2]
    assert happened.index("the re-check is done") < happened.index("Started.") < happened.rindex("Opened.")


def test_once_it_has_ended_nothing_is_asked_for_and_what_happened_stands(world: World) -> None:
    pair = running(world)
    infusion = pair.state.check.infusion
    ended = stopping.Stop(why=END_OF_THERAPY)
    roles = world.person("n.ferrow").roles
    stopping.note_stop(world.site, pair.act(pair.first), roles, pair.check, stop=ended)
    world.clock.pass_(hours=30)
    said = main_of(world.at("q.lindqvist").get(f"/infusion/{infusion}"))
    assert "The device was stopped: End of therapy." in said
    assert [each for each in ("Syringe low", "lasts", "Ask pharmacy") if each in said] == []


def test_what_happened_long_ago_is_folded(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(infusion_told, "_AT_ONCE", 1)
    infusion = running(world).state.check.infusion
    page = world.at("r.calloway").get(f"/infusion/{infusion}")
    folded = [words_of(each) for each in page.all("details")]
    assert "Earlier" in folded[-1]
    assert "Opened." in folded[-1]
    assert "Started." not in folded[-1]


def set_up_again(world: World, *, totals: dict[str, str]) -> str:
    """It was stopped after eight hours, and a syringe of another lot is on since; the infusion's id."""
    pair = running(world)
    again(pair, hours=8)
    roles = world.person("n.ferrow").roles
    stopping.note_stop(world.site, pair.act(pair.first), roles, pair.check, stop=stopping.Stop(why="other"))
    pair.check = world.open_check(pair.first)
    world.join(pair.second, pair.check)
    pair.read(answers(label={"lot": "LOT-9"}, totals=totals))
    for act in (pair.take_steps, pair.sign, pair.look, pair.start):
        act()
    return pair.state.check.infusion


def test_what_is_left_of_one_that_came_off_is_said_until_it_has_gone(world: World) -> None:
    old = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}
    infusion = set_up_again(world, totals=old)
    said = main_of(world.at("r.calloway").get(f"/infusion/{infusion}")).replace("\N{NO-BREAK SPACE}", " ")
    assert "19.6 mL of a syringe that is off the device is still in hand." in said


def test_a_syringe_of_which_something_was_not_read_is_not_said_to_add_up(world: World) -> None:
    """It was taken off after a stop, and nobody could read the totals and what was left."""
    shown = ("total_amount", "total_volume", "presses", "doses", "left")
    infusion = set_up_again(world, totals=dict.fromkeys(shown, "none"))
    page = world.at("r.calloway").get(f"/infusion/{infusion}")
    said = main_of(page).replace("\N{NO-BREAK SPACE}", " ")
    assert "Nobody read the totals and what was left here" in said
    assert "It cannot be added up: something was not read." in said
    assert "Where the rest is" in page.body
    together = said.split("All syringes together")[1]
    assert "In it, by its label 60 mL 12 mg" in together
    assert "Given, by the device's totals not known" in together


def test_before_anybody_has_read_what_is_left_it_says_so(world: World) -> None:
    said = main_of(world.at("r.calloway").get(f"/infusion/{running(world).state.check.infusion}"))
    assert "Nobody has read what is left in it since it went on" in said
    assert "Syringe low" not in said


def test_of_a_check_that_is_open_it_tells_no_more_than_that_it_was_opened(world: World) -> None:
    pair = running(world)
    infusion = pair.state.check.infusion
    pair.re_checks()
    pair.read(answers(totals={"left": "20 mL"}))
    said = main_of(world.at("r.calloway").get(f"/infusion/{infusion}"))
    assert "Re-check Opened." in said
    assert "20 mL" not in said


def test_the_page_asks_no_more_of_the_database_of_an_infusion_that_was_checked_often(world: World) -> None:
    pair = running(world)
    infusion, took = pair.state.check.infusion, []
    for _ in range(3):
        pair.re_checks()
        pair.read(answers())
        pair.sign()
        charge = world.at("r.calloway")
        with asked() as given:
            assert charge.get(f"/infusion/{infusion}").status == 200
        took.append(len(given.statements))
    assert took == [took[0]] * 3


def test_a_record_leads_to_all_of_its_infusion_once_it_was_started(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.CLEARED)
    assert "All of this infusion" not in pair.page(pair.first, "/record").links()
    pair.both_look()
    pair.starts()
    pair.page(pair.first, "/record")
    assert pair.first.follow("All of this infusion").heading.startswith("Infusion, ")


def infusion_at(world: World, bed: str) -> str:
    with world.site.store.read() as reader:
        (kept,) = reader.infusions_at(UNIT, bed)
    return kept.id


def test_where_no_account_can_be_made_its_page_says_so(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the engine refuses: here a barrel that is smaller than its label."""
    pair = running(world)
    holds_too_little = {"volume": "30 mL", "amount": "6 mg", "size": "3 mL"}
    monkeypatch.setattr(account, "label_content", lambda *_: holds_too_little)
    said = main_of(pair.first.get(f"/infusion/{pair.state.check.infusion}"))
    assert "No account can be made of what was written." in said
    assert "tell the charge nurse" in said
