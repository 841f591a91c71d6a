"""One shared screen: locked, unlocked by six digits at this screen alone, and what they never open."""

import logging

import pytest

from app.base import Method
from app.records.state import Phase
from app.web.access import access_of
from tests.factories.answers import answers
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair, pair_of
from tests.support.browser import Browser
from tests.support.world import IDLE, UNIT, World, hand_in

PIN, OTHER_PIN, WRONG = "739204", "582046", "739205"


def shared(world: World) -> Browser:
    """A screen at which two nurses have begun a shift session each; the second is signed in."""
    browser = world.browser()
    world.sign_in(browser, FIRST_NURSE, pin=PIN)
    browser.press("Lock")
    world.sign_in(browser, SECOND_NURSE, pin=OTHER_PIN)
    return browser


def unlock(browser: Browser, name: str, pin: str) -> None:
    browser.follow(name)
    browser.press("Unlock", pin=pin)


def by_pin(world: World, login: str = FIRST_NURSE) -> Browser:
    """A browser at which six digits opened the session."""
    browser = world.browser()
    world.sign_in(browser, login, pin=PIN)
    browser.press("Lock")
    unlock(browser, world.person(login).printed_name, PIN)
    return browser


# ---------------------------------------------------------------------------------------------------------
# Locked and unlocked


def test_a_locked_screen_shows_names_and_since_when_and_nothing_else(world: World) -> None:
    browser = shared(world)
    world.open_check(browser)
    page = browser.press("Lock")

    assert page.heading == "This screen is free."
    assert "Nadia Ferrow locked since 13:00" in page.text
    assert "Tomas Osmund locked since 13:00" in page.text
    assert not any(word in page.text for word in ("bed", "Ward", "PCA", "mg", "DM-"))
    assert browser.get("/").heading == "Sign in"


def test_who_unlocks_is_where_the_screen_was_locked(world: World) -> None:
    browser = shared(world)
    check = world.open_check(browser)
    browser.get(f"/check/{check}/read")
    browser.press("Lock")
    unlock(browser, "Tomas Osmund", OTHER_PIN)

    assert browser.page.path.startswith(f"/check/{check}/read")
    assert "Tomas Osmund" in browser.page.text


def test_the_lock_is_offered_to_whoever_has_six_digits_here(world: World) -> None:
    assert "Lock" in {button.words for form in by_pin(world).page.forms() for button in form.buttons}
    plain = world.at(FIRST_NURSE)
    assert "Lock" not in {button.words for form in plain.page.forms() for button in form.buttons}


def test_the_screen_is_given_over_without_locking_it_first(world: World) -> None:
    browser = shared(world)
    browser.get("/sign-in")
    # Whoever is signed in is not offered to herself.
    assert not any("Tomas" in words for words in browser.page.links())
    unlock(browser, "Nadia Ferrow", PIN)

    assert "Nadia Ferrow" in browser.page.text
    assert "Tomas Osmund" not in browser.page.text


def test_each_unlock_has_a_token_of_its_own(world: World) -> None:
    browser, kept = shared(world), set()
    for name, pin in (("Nadia Ferrow", PIN), ("Tomas Osmund", OTHER_PIN), ("Nadia Ferrow", PIN)):
        browser.get("/handed-over")
        unlock(browser, name, pin)
        cookie = browser.client.get_cookie(world.settings.session_cookie, domain="localhost")
        assert cookie is not None
        kept.add(cookie.value)

    assert len(kept) == 3


def test_wrong_digits_say_how_many_tries_are_left_and_the_last_ends_it(world: World) -> None:
    browser = shared(world)
    browser.press("Lock")
    browser.follow("Nadia Ferrow")
    for left in ("4 tries are left", "3 tries are left", "2 tries are left", "1 try is left"):
        page = browser.press("Unlock", pin=WRONG)
        assert page.status == 422
        assert left in page.text
        assert WRONG not in page.body
    assert browser.press("Unlock", pin=WRONG).heading == "Sign in"
    assert "Nadia" not in browser.page.text

    # Nobody else waits, at this screen or any other, and neither does she with id and secret.
    unlock(browser, "Tomas Osmund", OTHER_PIN)
    assert browser.page.heading == "My checks"
    assert world.sign_in(world.browser(), FIRST_NURSE).path == "/"


@pytest.mark.parametrize("typed", ["", "73920", "seven7"])
def test_what_is_no_pin_is_no_try(world: World, typed: str) -> None:
    browser = shared(world)
    browser.press("Lock")
    browser.follow("Nadia Ferrow")
    for _ in range(6):
        assert browser.press("Unlock", pin=typed).status == 422
    assert browser.press("Unlock", pin=PIN).heading == "My checks"


@pytest.mark.parametrize("pin", ["123456", "000000", "231158", "12345"])
def test_obvious_digits_are_refused_beside_their_field(world: World, pin: str) -> None:
    browser = world.browser()
    page = world.sign_in(browser, FIRST_NURSE, pin=pin)

    assert page.status == 422
    assert page.with_id("fault-pin") is not None
    assert "Write your secret once more" in page.text
    assert pin not in page.body
    assert browser.press("Sign in", secret=world.secrets[FIRST_NURSE], unit=UNIT, pin=PIN).path == "/"


def test_the_digits_stand_in_no_address_no_page_and_no_log(
    world: World, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    browser = by_pin(world)

    assert PIN not in browser.page.path + browser.page.body
    assert PIN not in caplog.text
    with world.site.store.read() as reader:
        for table in ("session", "shift_session", "throttle", "log_entry", "access"):
            assert not any(PIN in str(row) for row in reader.rows(table)), table


def test_an_idle_screen_is_locked_and_unlocked_by_six_digits(world: World) -> None:
    browser = by_pin(world)
    world.clock.pass_(seconds=IDLE.total_seconds() + 1)

    assert browser.get("/open").heading == "Sign in"
    unlock(browser, "Nadia Ferrow", PIN)
    assert browser.page.path == "/open"
    # And past the shift not even that.
    world.clock.pass_(hours=12)
    assert "Nadia" not in browser.get("/").text


def test_signing_out_ends_the_shift_session(world: World) -> None:
    browser = by_pin(world)
    browser.press("Sign out")

    assert "Nadia" not in browser.page.text


def test_a_stolen_cookie_of_the_screen_alone_opens_nothing(world: World) -> None:
    browser = shared(world)
    thief = world.browser()
    station = browser.client.get_cookie(world.settings.device_cookie, domain="localhost")
    assert station is not None
    thief.client.set_cookie(world.settings.device_cookie, station.value, domain="localhost", secure=True)
    tried = 0

    for rule in world.app.url_map.iter_rules():
        access = access_of(world.app, rule.endpoint)
        if access.public or rule.arguments or "GET" not in (rule.methods or ()):
            continue
        assert thief.get(rule.rule).heading == "Sign in", rule.rule
        tried += 1
    assert tried > 5
    unlock(thief, "Nadia Ferrow", WRONG)
    assert thief.page.status == 422
    # Whoever is at the screen itself goes on.
    assert "Tomas Osmund" in browser.get("/").text


def test_the_digits_open_nothing_at_another_screen(world: World) -> None:
    browser = shared(world)
    address = next(each for each in browser.get("/sign-in").links().values() if "/unlock/" in each)
    other = world.browser()

    assert other.get(address).heading == "Sign in"
    form = [("csrf_token", other.token()), ("pin", PIN)]
    assert other.post(address.partition("?")[0], form).heading == "Sign in"


def test_a_forged_form_unlocks_nothing(world: World) -> None:
    browser = shared(world)
    address = next(each for each in browser.get("/sign-in").links().values() if "/unlock/" in each)

    assert browser.post(address, [("csrf_token", "0" * 64), ("pin", PIN)]).status == 400
    assert "Tomas Osmund" in browser.get("/").text


# ---------------------------------------------------------------------------------------------------------
# What six digits open


def test_reading_steps_and_start_are_open_to_two_who_unlock_one_screen(world: World) -> None:
    browser = by_pin(world)
    check = world.open_check(browser)
    hand_in(browser, check, answers(), over=True)
    world.clock.pass_(seconds=5)
    world.sign_in(browser, SECOND_NURSE, pin=OTHER_PIN)
    browser.get(f"/check/{check}")
    browser.follow("Join as second")
    browser.press("Join and read alone")
    page = hand_in(browser, check, answers())

    assert page.path == f"/check/{check}"
    assert "agree" in page.heading
    pair = pair_of(world)
    pair.check, pair.first, pair.second = check, browser, browser
    hand_ins = {each.method for each in pair.state.rounds[0].handed_in.values()}
    assert hand_ins == {Method.PIN, Method.SECRET}


def test_an_unlock_before_the_other_handed_in_is_no_sign_in_anew(world: World) -> None:
    browser = by_pin(world)
    check = world.open_check(browser)
    hand_in(browser, check, answers(), over=True)
    # In the same second.
    world.sign_in(browser, SECOND_NURSE, pin=OTHER_PIN)
    browser.get(f"/check/{check}")
    browser.follow("Join as second")
    page = browser.press("Join and read alone")
    assert (page.status, page.heading) == (409, "Sign in anew, then read")

    browser.press("Lock, and unlock again")
    world.clock.pass_(seconds=1)
    unlock(browser, "Tomas Osmund", OTHER_PIN)
    assert browser.get(f"/check/{check}/read").path.endswith("/read/wristband")


def observers_of(pair: Pair) -> list[str]:
    """Who wrote down what was observed before any dose."""
    return [each.by for each in pair.state.baselines]


def test_the_others_part_on_this_screen_takes_her_six_digits(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STEPS)
    screen = world.browser()
    world.sign_in(screen, FIRST_NURSE, pin=PIN)
    screen.press("Lock")
    world.sign_in(screen, SECOND_NURSE, pin=OTHER_PIN)
    observed = {"sedation": "0", "respiratory_rate": "16", "spo2": "98"}

    screen.get(f"/check/{pair.check}/steps?by=1")
    page = screen.press("what is ticked", **observed, pin=WRONG)
    assert page.status == 422
    assert "4 tries are left" in page.text
    assert observers_of(pair) == []
    page = screen.press("what is ticked", **observed, pin=PIN)
    assert page.status == 200
    assert observers_of(pair) == [world.person(FIRST_NURSE).id]
    with world.site.store.read() as reader:
        entries = reader.log_entries(after=0, limit=10_000)
    own = next(each for each in entries if each.event.kind == "baseline-observed")
    first = next(each.event for each in entries if each.session == own.session)
    assert getattr(first, "what", "") == "gave six digits"
    # The session was of this act alone, and whoever is signed in here still is.
    with world.site.store.read() as reader:
        session = reader.find_session(own.session)
    assert session is not None
    assert session.ended_at == own.at
    assert "Tomas Osmund" in screen.get("/").text


def test_another_nurses_six_digits_confirm_no_part(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STEPS)
    screen = world.browser()
    world.sign_in(screen, "i.bexley", pin=PIN)
    imogen = next(each for each in screen.press("Lock").links().values() if "/unlock/" in each)
    world.sign_in(screen, SECOND_NURSE, pin=OTHER_PIN)
    screen.get(f"/check/{pair.check}/steps?by=1")
    form, _ = screen.page.form_with("what is ticked")
    given = {
        **dict(form.held),
        "sedation": "0",
        "respiratory_rate": "16",
        "spo2": "98",
        "pin": PIN,
        "shift_session": imogen.partition("?")[0].split("/")[2],
    }
    page = screen.post(form.action or screen.page.path, [*given.items()])

    assert page.status == 422
    assert "not the nurse whose part this is" in page.text
    assert observers_of(pair) == []
