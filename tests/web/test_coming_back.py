"""After signing in one is where one was, or where a scanned code led; nowhere else."""

from urllib.parse import parse_qs, urlsplit

import pytest

from app.web.coming_back import leads_somewhere
from tests.story.pages import joined
from tests.support.browser import ORIGIN, Browser, Page
from tests.support.world import IDLE, UNIT, World
from tests.web.test_opening import shown_code


def turned_away(browser: Browser, path: str) -> Page:
    """Ask for a page, and find oneself at the sign-in."""
    page = browser.get(path)
    assert page.heading == "Sign in"
    assert "you go on where you were" in page.text
    return page


def sign_in_here(world: World, browser: Browser, login: str) -> Page:
    """Sign in with the form in front."""
    return browser.press("Sign in", login=login, secret=world.secrets[login], unit=UNIT)


def test_a_scanned_code_is_still_there_after_signing_in(world: World) -> None:
    first, second = world.at("n.ferrow"), world.browser()
    check = world.open_check(first)
    code = shown_code(first)
    turned_away(second, f"/join?code={code}")

    page = sign_in_here(world, second, "t.osmund")

    assert page.path == f"/join?code={code}"
    assert second.press("Find the check").path == f"/check/{check}/join"


def test_the_code_outlasts_a_wrong_secret(world: World) -> None:
    browser = world.browser()
    turned_away(browser, "/join?code=AAAAAA")

    assert browser.press("Sign in", login="t.osmund", secret="not it", unit=UNIT).status == 422

    assert sign_in_here(world, browser, "t.osmund").path == "/join?code=AAAAAA"


def test_after_an_expired_session_one_is_where_one_was(world: World) -> None:
    browser, _, check = world.pair()
    world.clock.pass_(seconds=int(IDLE.total_seconds()) + 1)
    path = f"/check/{check}/read/label"
    turned_away(browser, path)

    assert sign_in_here(world, browser, "n.ferrow").path == path


def test_a_press_that_came_too_late_leads_back_to_its_page(world: World) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/read/label")
    token = browser.token()
    world.clock.pass_(seconds=int(IDLE.total_seconds()) + 1)
    browser.post(f"/check/{check}/hand-in", [("csrf_token", token)])

    # Only a form goes to the hand-in, so it is the check's own page, which leads to the reading.
    assert sign_in_here(world, browser, "n.ferrow").path == f"/check/{check}/read/wristband"


def test_whoever_else_signs_in_there_is_led_to_no_page_of_the_first(world: World) -> None:
    browser, _, check = world.pair()
    world.clock.pass_(seconds=int(IDLE.total_seconds()) + 1)
    turned_away(browser, f"/check/{check}/read/label")

    page = sign_in_here(world, browser, "r.calloway")

    assert page.path == f"/check/{check}"
    assert page.status == 200


def test_who_may_know_nothing_of_the_check_comes_to_the_own_list(world: World) -> None:
    pair = joined(world)
    browser = world.browser()
    turned_away(browser, f"/check/{pair.check}/read/label")

    page = browser.press("Sign in", login="i.bexley", secret=world.secrets["i.bexley"], unit="recovery")

    assert page.path == "/"


def test_a_page_for_another_role_is_not_gone_to(world: World) -> None:
    browser = world.browser()
    turned_away(browser, "/accounts")

    assert sign_in_here(world, browser, "n.ferrow").path == "/"


ELSEWHERE = (
    "https://example.org/",
    "//example.org/",
    "///example.org/",
    "/\\example.org/",
    "\\\\example.org\\",
    "javascript:alert(1)",
    "/%2F%2Fexample.org",
    "//example.org/join?code=AAAAAA",
    "https:/join",
    "/here",
    "/static/countersign.css",
    "/sign-in?then=/join",
    "/no-such-page",
    "/join?code=" + "A" * 600,
    "",
)


def test_only_pages_of_ours_are_gone_to(world: World) -> None:
    with world.app.test_request_context(base_url=ORIGIN):
        assert leads_somewhere("/join?code=AAAAAA")
        assert [each for each in ELSEWHERE if leads_somewhere(each)] == []


@pytest.mark.parametrize("asked", ["https://example.org/", "//example.org/join"])
def test_another_site_is_not_gone_to(world: World, asked: str) -> None:
    browser = world.browser()
    browser.get("/sign-in")
    given = [("csrf_token", browser.token()), ("login", "t.osmund"), ("unit", UNIT), ("then", asked)]

    answer = browser.client.post(
        "/sign-in",
        base_url=ORIGIN,
        data=dict([*given, ("secret", world.secrets["t.osmund"])]),
        headers={"Origin": ORIGIN},
    )

    assert answer.headers["Location"] == "/"


def test_what_asks_for_another_scheme_in_its_query_stays_here(world: World) -> None:
    # Flask's own words for making an address absolute are plain parts of a query here.
    browser = world.browser()
    turned_away(browser, "/join?_scheme=javascript&_external=1&code=AAAAAA")

    answer = browser.client.post(
        "/sign-in",
        base_url=ORIGIN,
        data={
            **dict(browser.page.form_with("Sign in")[0].held),
            "login": "t.osmund",
            "secret": world.secrets["t.osmund"],
            "unit": UNIT,
        },
        headers={"Origin": ORIGIN},
    )

    told = urlsplit(answer.headers["Location"])
    assert (told.scheme, told.netloc, told.path) == ("", "", "/join")
    assert parse_qs(told.query)["code"] == ["AAAAAA"]


def test_whoever_goes_back_to_where_only_a_form_goes_finds_the_check(world: World) -> None:
    pair = joined(world)

    for tail in ("hand-in", "read-again", "acknowledge", "read/order/typing"):
        page = pair.first.get(f"/check/{pair.check}/{tail}")
        assert page.status == 200, tail
        assert page.heading == "Wristband", tail
    assert pair.first.get("/check/none/hand-in").status == 404
    assert pair.first.get("/here").status == 204
    assert pair.first.get("/sign-out").status == 405
