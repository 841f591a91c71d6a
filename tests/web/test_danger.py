"""Somebody sees danger while reading and says so: what both read anew, and what stands."""

from app.records.state import Phase
from app.site.loading import load
from tests.factories.answers import answers
from tests.story.pages import started
from tests.support.browser import Browser, Page
from tests.support.world import World, hand_in, read_all


def phase(world: World, check: str) -> Phase:
    """The phase of the check."""
    with world.site.store.read() as reader:
        loaded = load(reader, check, world.clock.now)
    assert loaded is not None
    return loaded.state.phase


def to_source(browser: Browser, check: str, source: str) -> Page:
    """Open one source."""
    return browser.get(f"/check/{check}/read/{source}")


def test_danger_says_first_what_to_do_and_voids_only_when_it_is_said(world: World) -> None:
    browser, other, check = world.pair()
    to_source(browser, check, "wristband")
    browser.press("Keep, and", identifier="DM-1")

    page = browser.follow("I see danger")
    assert page.heading == "First the patient"
    assert page.text.index("Look at the patient") < page.text.index("tell the program")
    assert "DM-1" in browser.get(f"/check/{check}/read").text

    browser.get(f"/check/{check}/danger")
    page = browser.press("Say it", why="The syringe is another patient's")
    assert "no blame" in page.text
    for reader in (browser, other):
        form, _ = to_source(reader, check, "wristband").form_with("Keep, and")
        assert dict(form.held)["identifier"] == ""
        assert "reading 2" in reader.page.text


def test_danger_in_one_source_starts_that_one_empty_for_both_and_leaves_the_others(world: World) -> None:
    browser, other, check = world.pair()
    for reader, named in ((browser, "DM-1"), (other, "DM-2")):
        read_all(reader, check, answers(wristband={"identifier": named}))
    other.get(f"/check/{check}/danger")
    other.press("Say it", source="label")

    for reader, named in ((browser, "DM-1"), (other, "DM-2")):
        page = to_source(reader, check, "wristband")
        assert dict(page.form_with("Keep, and")[0].held)["identifier"] == named
        assert "What you had written in this one stands." in page.text
        page = to_source(reader, check, "label")
        assert "This source starts empty for both of you" in page.text
        held = dict(page.form_with("Keep, and")[0].held)
        assert not [name for name in held if held[name] and name not in ("csrf_token", "round", "version")]
        # Whoever goes on is led to what is read anew.
        assert f"/check/{check}/read/label" in reader.get(f"/check/{check}/read").links().values()


def test_whoever_had_handed_in_is_told_why_it_is_read_once_more(world: World) -> None:
    browser, other, check = world.pair()
    hand_in(browser, check, answers())
    other.get(f"/check/{check}/danger")
    other.press("Say it", source="label")

    page = to_source(browser, check, "wristband")

    assert "What you had handed in counts no more" in page.text
    assert dict(page.form_with("Keep, and")[0].held)["identifier"] == ""


def test_whoever_looked_over_a_reading_before_the_danger_looks_over_it_once_more(world: World) -> None:
    browser, other, check = world.pair()
    read_all(browser, check, answers())
    form, _ = browser.page.form_with("Hand in")
    other.get(f"/check/{check}/danger")
    other.press("Say it", source="label")

    page = browser.post(form.action, [*form.held, ("go", "stay")])

    assert page.status == 409
    assert "nothing was handed in" in page.text
    assert page.heading == "Go over my reading"
    with world.site.store.read() as reader:
        assert reader.readings(check) == ()
    assert browser.press("Hand in").path == f"/check/{check}/waiting"


def test_a_page_of_the_source_from_before_the_danger_keeps_nothing(world: World) -> None:
    browser, other, check = world.pair()
    form, _ = to_source(browser, check, "label").form_with("Keep, and")
    held = [*(each for each in form.held if each[0] != "lot"), ("lot", "ZQX-7319")]
    other.get(f"/check/{check}/danger")
    other.press("Say it", source="label")

    assert browser.post(f"/check/{check}/read/label/typing", held).status == 409
    page = browser.post(form.action, [*held, ("go", "next")])

    assert page.path == f"/check/{check}/read/label"
    assert "Somebody saw danger." in page.text
    assert "ZQX-7319" not in page.body


def test_the_danger_page_offers_what_this_kind_reads(world: World) -> None:
    pair = started(world)
    pair.re_checks()

    page = pair.page(pair.first, "/danger")

    offered = page.form_with("Say it")[0].choices["source"]
    assert offered == ["wristband", "order", "label", "device", "totals"]


def test_danger_is_no_longer_said_of_a_reading_that_was_compared(world: World) -> None:
    first, second, check = world.pair()
    first.get(f"/check/{check}/danger")
    form, _ = first.page.form_with("Say it")
    hand_in(first, check, answers())
    hand_in(second, check, answers())

    page = first.post(form.action, [each for each in form.held if each[0] != "why"])

    assert page.path.startswith(f"/check/{check}")
    assert phase(world, check) is not Phase.READING


def test_somebody_else_s_danger_voids_nothing(world: World) -> None:
    _, _, check = world.pair()
    third = world.at("r.calloway")
    third.get(f"/check/{check}/danger")

    assert third.press("Say it").status == 404
