"""Hand in, wait, hand over the device, say that there is danger, read again."""

from datetime import datetime

import pytest

from app.records.state import Phase
from app.site.installation import Site
from app.site.loading import load
from app.web.views import reading
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers
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


def test_handing_in_locks_the_reading_and_says_only_that_both_are_waited_for(world: World) -> None:
    browser, other, check = world.pair()

    page = hand_in(browser, check, answers())
    assert page.path == f"/check/{check}/waiting"
    assert "Waiting for both readings" in page.text
    assert "Your part of this reading is done; Tomas Osmund has joined." in page.text
    assert "Say nothing of what you read" in page.text
    assert "DM-40417" not in page.body

    for path in (f"/check/{check}/read", f"/check/{check}/read/label"):
        assert browser.get(path).path == f"/check/{check}/waiting"
    assert phase(world, check) is Phase.READING
    assert other.get(f"/check/{check}/waiting").path.startswith(f"/check/{check}/read")


def test_a_hand_in_pressed_twice_is_one(world: World) -> None:
    browser, _, check = world.pair()
    read_all(browser, check, answers())
    form, _ = browser.page.form_with("Hand in")

    for _ in range(2):
        assert browser.post(form.action, [*form.held, ("go", "stay")]).path == f"/check/{check}/waiting"

    with world.site.store.read() as reader:
        assert len(reader.readings(check)) == 1


def test_the_second_hand_in_has_the_round_compared(world: World) -> None:
    first, second, check = world.pair()
    hand_in(first, check, answers())

    page = hand_in(second, check, answers())

    assert page.path == f"/check/{check}", "there is nothing left to wait for"
    assert phase(world, check) not in (Phase.READING, Phase.BOTH_HANDED_IN)
    assert first.get(f"/check/{check}/waiting").path == f"/check/{check}"


def test_the_comparison_begins_when_the_second_hand_in_stands(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It has a transaction of its own, so that whatever becomes of it, nothing that was handed in is lost."""
    first, second, check = world.pair()
    stood: list[int] = []

    def fails(site: Site, name: str, _now: datetime) -> bool:
        with site.store.read() as reader:
            stood.append(len(reader.readings(name)))
        message = "the comparison was lost"
        raise RuntimeError(message)

    monkeypatch.setattr(reading, "compare_round", fails)
    hand_in(first, check, answers())
    # One reading alone is compared with nothing.
    assert stood == []
    assert hand_in(second, check, answers()).status == 500
    assert stood == [2]
    assert phase(world, check) is Phase.BOTH_HANDED_IN

    # Pressed again, it says the same; the sweeper compares.
    assert "Both handed in" in second.get(f"/check/{check}/waiting").text
    swept = sweep_once(world.site, world.clock.now, holder="test")
    assert swept is not None
    assert swept.compared == 1


def test_no_page_loads_itself_anew_under_whoever_is_reading_it(world: World) -> None:
    """WCAG 2.2, success criterion 2.2.1, failure F41: a script asks quietly instead."""
    browser, _, check = world.pair()

    page = hand_in(browser, check, answers())
    assert [each for each in page.all("meta") if each.get("http-equiv") == "refresh"] == []
    assert browser.get(f"/check/{check}/waiting").text.count("Refresh") == 1


def test_waiting_alone_offers_a_code_for_the_second(world: World) -> None:
    browser = world.at("n.ferrow")
    check = world.open_check(browser)
    hand_in(browser, check, answers())

    assert f"/check/{check}/code" in browser.page.links().values()


def test_one_device_is_handed_over_and_shows_nothing_of_the_first(world: World) -> None:
    browser = world.at("n.ferrow")
    check = world.open_check(browser)

    page = hand_in(browser, check, answers(), over=True)
    assert page.heading == "This screen is free."
    assert page.text.count("Nadia") == 0
    assert browser.get(f"/check/{check}/waiting").heading == "Sign in"

    world.clock.pass_(seconds=5)
    world.sign_in(browser, "t.osmund")
    browser.follow("Join as second")
    browser.press("Join and read alone")
    page = hand_in(browser, check, answers())
    assert page.path == f"/check/{check}"


def test_whoever_signed_in_at_the_device_before_the_other_handed_in_signs_in_anew(world: World) -> None:
    """A sign-in no later than the other's hand-in at the same device may be the other's own hands."""
    browser = world.at("n.ferrow")
    check = world.open_check(browser)
    hand_in(browser, check, answers(), over=True)
    world.sign_in(browser, "t.osmund")
    browser.follow("Join as second")

    page = browser.press("Join and read alone")
    assert page.status == 409
    assert page.heading == "Sign in anew, then read"

    assert browser.press("Sign out, and sign in again").heading == "Sign in"
    world.clock.pass_(seconds=1)
    world.sign_in(browser, "t.osmund")
    assert browser.get(f"/check/{check}/read").path.endswith("/read/wristband")


def test_the_next_reading_asks_only_what_differed_and_shows_nothing_of_the_last(world: World) -> None:
    first, second, check = world.pair()
    hand_in(first, check, answers())
    hand_in(second, check, answers(device={"lockout": "6 min"}))
    page = first.get(f"/check/{check}")
    first.press("Read these again") if "Read these again" in page.text else first.press("again")

    page = first.get(f"/check/{check}/read")

    assert page.path == f"/check/{check}/read/device"
    form, _ = page.form_with("Keep, and")
    asked = {each.get("data-field") for each in page.all("fieldset")}
    assert asked == {"lockout"}
    assert not any(value for name, value in form.held if name not in ("csrf_token", "round", "version"))
    assert "reading 2" in page.text
    assert "What you read before is not shown." in page.text
    assert to_source(first, check, "order").status == 404


def test_a_source_that_was_put_right_is_read_whole_again(world: World) -> None:
    first, second, check = world.pair()
    for browser in (first, second):
        hand_in(browser, check, answers(device={"demand_dose": "2 mg"}))
    with world.site.store.read() as reader:
        loaded = load(reader, check, world.clock.now)
    assert loaded is not None
    assert loaded.state.phase is Phase.DISPUTED

    page = first.get(f"/check/{check}")
    form = next(each for each in page.forms() if each.action == f"/check/{check}/read-again")
    kept = [each for each in form.held if each[0] != "touched"]
    first.post(form.action, [*kept, ("touched", "device")])

    page = first.get(f"/check/{check}/read")
    assert page.path == f"/check/{check}/read/device"
    assert "This was put right. Read all of it again" in page.text
    assert len([each for each in page.all("fieldset") if each.get("data-field")]) > 10
