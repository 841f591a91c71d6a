"""Sign in, stay, sign out, and the first secret."""

import pytest

from tests.support.browser import ORIGIN, Browser
from tests.support.world import ABSOLUTE, IDLE, UNIT, World

NEW_SECRET = "seventeen brass hinges on a barge"  # invented for this test


def session_of(world: World, browser: Browser) -> str:
    """The session's token, as the browser keeps it."""
    kept = browser.client.get_cookie(world.settings.session_cookie, domain="localhost")
    assert kept is not None
    return str(kept.value)


def test_whoever_signs_in_sees_the_own_checks(world: World) -> None:
    browser = world.at("n.ferrow")

    assert browser.page.heading == "My checks"
    assert "Nadia Ferrow" in browser.page.text


def test_id_is_kept_and_secret_is_not_after_a_wrong_secret(world: World) -> None:
    browser = world.browser()
    browser.get("/sign-in")

    page = browser.press("Sign in", login="n.ferrow", secret="not it", unit=UNIT)

    assert page.status == 422
    assert "do not belong together" in page.text
    assert 'value="n.ferrow"' in page.body
    assert "not it" not in page.body


def test_a_wrong_id_and_a_wrong_secret_are_answered_alike(world: World) -> None:
    bodies = []
    for login in ("n.ferrow", "nobody"):
        browser = world.browser()
        browser.get("/sign-in")
        page = browser.press("Sign in", login=login, secret="not it", unit=UNIT)
        bodies.append(page.body.replace(browser.token(), "TOKEN").replace(f'value="{login}"', "LOGIN"))

    assert bodies[0] == bodies[1]


def test_what_is_missing_is_said_at_the_top_and_beside_the_field(world: World) -> None:
    browser = world.browser()
    browser.get("/sign-in")

    page = browser.press("Sign in", login="n.ferrow", secret="")

    assert page.status == 422
    assert page.links()["Secret"] == "#field-secret"
    assert "Choose the unit of this shift." in page.text
    assert page.with_id("fault-unit") is not None


def test_who_forgot_the_unit_is_told_at_once_that_the_secret_is_gone(world: World) -> None:
    browser = world.browser()
    browser.get("/sign-in")

    page = browser.press("Sign in", login="n.ferrow", secret=world.secrets["n.ferrow"])

    assert page.status == 422
    assert "2 things to put right" in page.text
    assert "Write your secret once more: it is never kept." in page.text
    assert browser.press("Sign in", secret=world.secrets["n.ferrow"], unit=UNIT).heading == "My checks"


def test_after_three_failures_the_account_waits_and_then_is_let_in(world: World) -> None:
    for _ in range(4):
        browser = world.browser()
        browser.get("/sign-in")
        browser.press("Sign in", login="n.ferrow", secret="not it", unit=UNIT)

    refused = world.sign_in(world.browser(), "n.ferrow")
    assert refused.status == 422
    assert "Too many tries" in refused.text

    world.clock.pass_(seconds=31)
    assert world.sign_in(world.browser(), "n.ferrow").path == "/"


def test_a_colleague_is_not_slowed_by_anothers_failures(world: World) -> None:
    for _ in range(6):
        browser = world.browser()
        browser.get("/sign-in")
        browser.press("Sign in", login="n.ferrow", secret="not it", unit=UNIT)

    assert world.sign_in(world.browser(), "t.osmund").path == "/"


def test_signing_out_kills_the_cookie_at_the_server(world: World) -> None:
    browser = world.at("n.ferrow")
    kept = session_of(world, browser)

    page = browser.press("Sign out")
    assert page.heading == "Sign in"
    browser.client.set_cookie(world.settings.session_cookie, kept, domain="localhost", secure=True)

    assert browser.get("/").heading == "Sign in"


def test_signing_out_tells_the_browser_to_forget(world: World) -> None:
    browser = world.at("n.ferrow")

    answer = browser.client.post(
        "/sign-out", base_url=ORIGIN, data={"csrf_token": browser.token()}, headers={"Origin": ORIGIN}
    )

    assert answer.status_code == 303
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert "Max-Age=0" in answer.headers["Set-Cookie"]


def test_a_token_planted_before_signing_in_is_never_adopted(world: World) -> None:
    browser = world.browser()
    browser.client.set_cookie(world.settings.session_cookie, "planted", domain="localhost", secure=True)

    world.sign_in(browser, "n.ferrow")
    assert session_of(world, browser) != "planted"

    browser.client.set_cookie(world.settings.session_cookie, "planted", domain="localhost", secure=True)
    assert browser.get("/").heading == "Sign in"


def test_each_sign_in_has_a_token_of_its_own_and_ends_the_one_before(world: World) -> None:
    first = world.at("n.ferrow")
    second = world.at("n.ferrow")

    assert session_of(world, first) != session_of(world, second)
    assert first.get("/").heading == "Sign in"
    assert second.get("/").heading == "My checks"


def test_a_session_is_dead_on_another_device(world: World) -> None:
    own, stolen = world.at("n.ferrow"), world.browser()
    stolen.get("/sign-in")
    stolen.client.set_cookie(
        world.settings.session_cookie, session_of(world, own), domain="localhost", secure=True
    )

    assert stolen.get("/").heading == "Sign in"
    assert own.get("/").heading == "My checks"


def test_the_second_person_at_a_device_ends_the_firsts_session(world: World) -> None:
    browser = world.at("n.ferrow")
    kept = session_of(world, browser)

    world.sign_in(browser, "t.osmund")
    browser.client.set_cookie(world.settings.session_cookie, kept, domain="localhost", secure=True)

    assert "Nadia Ferrow" not in browser.get("/").text


def test_an_idle_session_ends_and_a_used_one_does_not(world: World) -> None:
    browser = world.at("n.ferrow")
    for _ in range(3):
        world.clock.pass_(seconds=IDLE.total_seconds() - 1)
        assert browser.get("/").heading == "My checks"

    world.clock.pass_(seconds=IDLE.total_seconds() + 1)
    assert browser.get("/").heading == "Sign in"


def test_a_writing_hand_keeps_the_session_without_a_page(world: World) -> None:
    browser = world.at("n.ferrow")
    world.clock.pass_(seconds=IDLE.total_seconds() - 1)

    here = browser.get("/here")
    assert (here.status, here.body) == (204, "")

    world.clock.pass_(seconds=IDLE.total_seconds() - 1)
    assert browser.get("/").heading == "My checks"


def test_no_session_outlives_the_longest_shift(world: World) -> None:
    browser = world.at("n.ferrow")
    began = world.clock.now
    while world.clock.now - began < ABSOLUTE - IDLE:
        world.clock.pass_(minutes=4)
        assert browser.get("/").heading == "My checks"

    world.clock.now = began + ABSOLUTE
    browser.get("/")
    world.clock.pass_(seconds=1)
    assert browser.get("/").heading == "Sign in"


def test_a_shift_on_another_unit_is_taken_at_sign_in(world: World) -> None:
    browser = world.at("i.bexley", unit="ward-4-east")

    assert "Ward 4 East" in browser.page.text


def test_a_device_knows_the_unit_that_it_stands_on(world: World) -> None:
    def offered(browser: Browser) -> str:
        form, _ = browser.get("/sign-in").form_with("Sign in")
        return dict(form.held)["unit"]

    browser = world.browser()
    assert offered(browser) == ""
    world.sign_in(browser, "n.ferrow", unit="recovery")
    browser.press("Sign out")
    assert offered(browser) == "recovery"
    world.sign_in(browser, "t.osmund", unit=UNIT)
    browser.press("Sign out")
    assert offered(browser) == UNIT
    assert offered(world.browser()) == "", "it is the device's, nobody else's"
    browser.client.set_cookie(world.settings.unit_cookie, "no-such-unit")
    assert offered(browser) == ""


def test_the_neutral_page_between_two_people_says_nothing_of_either(world: World) -> None:
    page = world.browser().get("/handed-over")

    assert page.status == 200
    assert page.heading == "This screen is free."


@pytest.mark.parametrize("typed", ["as given", "lower case", "without hyphens", "with spaces"])
def test_a_one_time_code_is_replaced_by_an_own_secret(world: World, typed: str) -> None:
    admin = world.at("a.moreau")
    admin.get(f"/accounts/{world.person('n.ferrow').id}")
    admin.press("new one-time code")
    code = next(
        element.text or "" for element in admin.page.all("p") if element.get("class") == "one-time-code exact"
    )
    written = {
        "as given": code,
        "lower case": code.lower(),
        "without hyphens": code.replace("-", ""),
        "with spaces": f" {code.replace('-', ' ')} ",
    }[typed]
    browser = world.browser()
    browser.get("/first-secret")

    page = browser.press(
        "Set the secret", login="n.ferrow", code=written, secret=NEW_SECRET, again=NEW_SECRET
    )
    assert page.heading == "Sign in"

    browser.press("Sign in", login="n.ferrow", secret=NEW_SECRET, unit=UNIT)
    # A reset makes a new signing key, and its owner is told at the next sign-in.
    assert browser.page.heading == "My signature"
    assert browser.get("/").heading == "My checks"


@pytest.mark.parametrize(
    ("secret", "again", "says"),
    [
        (NEW_SECRET, "another", "not the same"),
        ("short", "short", "at least 15 characters"),
        ("", "", "Write a secret."),
    ],
)
def test_a_secret_that_will_not_do_is_refused_with_the_reason(
    world: World, secret: str, again: str, says: str
) -> None:
    admin = world.at("a.moreau")
    admin.get(f"/accounts/{world.person('n.ferrow').id}")
    admin.press("new one-time code")
    code = next(
        element.text or "" for element in admin.page.all("p") if element.get("class") == "one-time-code exact"
    )
    browser = world.browser()
    browser.get("/first-secret")

    page = browser.press("Set the secret", login="n.ferrow", code=code, secret=secret, again=again)

    assert page.status == 422
    assert says in page.text
    assert not secret or secret not in page.body


def test_a_wrong_one_time_code_opens_nothing(world: World) -> None:
    browser = world.browser()
    browser.get("/first-secret")

    page = browser.press(
        "Set the secret", login="n.ferrow", code="CCCC-CCCC-CCCC-CCCC", secret=NEW_SECRET, again=NEW_SECRET
    )

    assert page.status == 422
    assert "wrong, used or too old" in page.text
    assert world.sign_in(world.browser(), "n.ferrow").path == "/"


def test_the_first_secret_page_opens_empty(world: World) -> None:
    page = world.browser().get("/first-secret")

    assert page.status == 200
    assert all(not value for name, value in page.forms()[0].held if name != "csrf_token")
