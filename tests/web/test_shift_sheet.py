"""The shift sheet: state without a value, and a checkpoint that can be typed in again from paper."""

import pytest

from app.records.checkpoint import Checkpoint, from_text
from app.workflow import pausing
from app.workflow.sweeping import sweep_once
from tests.story.pages import cleared, joined, started
from tests.support.browser import words_of
from tests.support.world import World


def sweeps(world: World) -> None:
    sweep_once(world.site, world.clock.now, holder="test")


def test_it_shows_what_is_open_and_what_waits(world: World) -> None:
    pair = joined(world)
    pair.page(pair.second, "/help")
    pair.second.press("Ask for help", why="patient")
    text = world.at("r.calloway").get("/shift-sheet").text
    assert "Ward 4 East, bed\N{NO-BREAK SPACE}12" in text.replace("bed 12", "bed\N{NO-BREAK SPACE}12")
    assert "WAITS FOR HELP" in text
    assert "record being made" not in text


def test_it_lists_what_runs_with_what_is_due_and_without_a_dose_or_a_volume(world: World) -> None:
    pair = started(world)
    paused = pausing.pause_line(world.site, pair.act(pair.first), pair.state.check.infusion, why="walk")
    assert isinstance(paused, pausing.Paused)
    told = []
    for later in (0, 21):
        world.clock.pass_(hours=later)
        told.append(words_of(world.at("r.calloway").get("/shift-sheet").with_id("main")))
    assert "Due: let the line run on, by" in told[0]
    assert "Overdue: let the line run on, by" in told[1]
    assert ["Syringe low: ask pharmacy for the next one." in each for each in told] == [False, True]
    assert not [each for each in ("mg", "mL", "HYDROmorphone") for said in told if each in said]


def test_a_cleared_check_stands_there_until_its_record_is_made(world: World) -> None:
    cleared(world)
    charge = world.at("r.calloway")
    assert "Both have signed, record being made" in charge.get("/shift-sheet").text
    sweeps(world)
    assert "record being made" not in charge.get("/shift-sheet").text


def test_the_newest_checkpoint_can_be_read_from_it(world: World) -> None:
    charge = world.at("r.calloway")
    assert "The log has not been signed yet" in charge.get("/shift-sheet").text
    sweeps(world)
    (printed,) = charge.get("/shift-sheet").all("pre")
    with world.site.store.read() as reader:
        kept = reader.latest_checkpoint()
    assert isinstance(kept, Checkpoint)
    assert from_text(words_of(printed)) == kept


def test_one_sign_read_wrong_is_another_checkpoint_or_none(world: World) -> None:
    sweeps(world)
    (printed,) = world.at("r.calloway").get("/shift-sheet").all("pre")
    with world.site.store.read() as reader:
        kept = reader.latest_checkpoint()
    assert kept is not None
    wrong = words_of(printed).replace(kept.root[:8], kept.root[:7] + ("0" if kept.root[7] != "0" else "1"))
    assert from_text(wrong) != kept


@pytest.mark.parametrize(
    ("login", "status"),
    [("r.calloway", 200), ("n.ferrow", 403), ("q.lindqvist", 403), ("a.moreau", 403)],
)
def test_it_is_the_charge_nurse_s(world: World, login: str, status: int) -> None:
    browser = world.at(login)
    assert browser.get("/shift-sheet").status == status
    assert browser.get("/shift-sheet/sheet.pdf").status == status


def test_the_page_leads_to_the_sheet_on_one_page(world: World) -> None:
    charge = world.at("r.calloway")
    page = charge.get("/shift-sheet")
    link = "The sheet on one page, with what was caught since the last shift (PDF)"
    given = charge.get(page.links()[link]).response
    assert given.mimetype == "application/pdf"
    name = given.headers["Content-Disposition"]
    assert name == 'attachment; filename="countersign-shift-sheet-ward-4-east.pdf"'


def test_it_is_of_the_unit_of_the_shift(world: World) -> None:
    cleared(world)
    assert "record being made" not in world.at("r.calloway", "recovery").get("/shift-sheet").text
