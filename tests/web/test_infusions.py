"""Lists say where and since when; drug and dose stand one tap further."""

from app.records.state import Phase
from tests.story.pages import Pair, pair_of
from tests.support.browser import Page, words_of
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
    assert "nothing is known here" in main_of(nurse.get(f"/infusion/{infusion_at(world, '31')}"))
    assert nurse.get("/infusion/none").status == 404


def infusion_at(world: World, bed: str) -> str:
    with world.site.store.read() as reader:
        (kept,) = reader.infusions_at(UNIT, bed)
    return kept.id
