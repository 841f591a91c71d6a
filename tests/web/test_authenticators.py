"""What is given beside the secret, on the pages: enrolling, signing in, signing, and what was lost."""

import pytest

from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair, at_signing
from tests.support.apps import App
from tests.support.browser import Browser, Page
from tests.support.world import UNIT, World

ASKED = {"nurse": "code-or-passkey"}
ENROL = "Enrol this app"


def app_shown(page: Page) -> App:
    """The app that took the secret of this page."""
    return App(page.with_id("shown").text or "")


def enrols(world: World, browser: Browser, login: str, **given: str) -> App:
    """Enrol an app where this person is signed in."""
    app = app_shown(browser.get("/authenticator"))
    usual = {"code": app.code(world.clock.now), "secret": world.secrets[login]}
    browser.press(ENROL, **usual | given)
    world.clock.pass_(seconds=30)
    return app


def signs_in(world: World, login: str, code: str) -> Browser:
    browser = world.browser()
    browser.get("/sign-in")
    browser.press("Sign in", login=login, secret=world.secrets[login], unit=UNIT, code=code)
    return browser


def sign(pair: Pair, code: str) -> Page:
    pair.page(pair.first, "/sign")
    return pair.first.press(
        "Sign this record", login=FIRST_NURSE, secret=pair.world.secrets[FIRST_NURSE], code=code
    )


def test_no_form_asks_for_it_where_the_site_does_not(world: World) -> None:
    form, _ = world.browser().get("/sign-in").form_with("Sign in")
    pair = at_signing(world)
    page = pair.page(pair.first, "/sign")

    assert "code" not in form.names
    assert "code" not in page.form_with("Sign this record")[0].names


def test_whoever_has_enrolled_nothing_does_that_first_and_then_signs_in_with_both(world: World) -> None:
    world.publishes_policy(second_factor=ASKED)
    browser = signs_in(world, FIRST_NURSE, "")
    assert browser.page.heading == "Enrol an authenticator first"
    for path in ("/", "/open", "/keys", "/export"):
        assert browser.get(path).path in ("/authenticator", path), path
        assert browser.page.status == 403 or browser.page.heading == "Enrol an authenticator first", path

    app = enrols(world, browser, FIRST_NURSE)

    assert browser.page.heading == "Sign in"
    assert signs_in(world, FIRST_NURSE, app.code(world.clock.now)).page.heading == "My checks"


def test_what_protects_a_patient_waits_for_no_enrolling(world: World) -> None:
    pair = at_signing(world)
    world.publishes_policy(second_factor=ASKED)
    browser = signs_in(world, FIRST_NURSE, "")

    assert browser.get(f"/check/{pair.check}/stop").path == f"/check/{pair.check}/stop"
    browser.get("/authenticator")
    browser.follow("A device was stopped at a bed")
    page = browser.press("with what stands above", unit=UNIT, bed="12", why="other")
    assert page.path.startswith("/stop/written")
    assert page.status == 200


def test_a_missing_a_wrong_and_a_used_code_are_said_beside_the_field_and_the_id_stays(world: World) -> None:
    app = enrols(world, world.at(FIRST_NURSE), FIRST_NURSE)
    world.publishes_policy(second_factor=ASKED)
    code = app.code(world.clock.now)
    wrong = "000000" if code != "000000" else "000001"

    for given, says in (("", "asked for this beside"), (wrong, "not what your app shows")):
        browser = signs_in(world, FIRST_NURSE, given)
        assert browser.page.status == 422
        assert browser.page.links()["Code of your app"] == "#field-code"
        assert says in browser.page.text
        assert dict(browser.page.form_with("Sign in")[0].held)["login"] == FIRST_NURSE
    assert signs_in(world, FIRST_NURSE, f" {code[:3]} {code[3:]} ").page.heading == "My checks"
    assert "was used already" in signs_in(world, FIRST_NURSE, code).page.text


def test_a_signature_asks_for_it_too(world: World) -> None:
    pair = at_signing(world)
    app = enrols(world, pair.first, FIRST_NURSE)
    world.publishes_policy(second_factor=ASKED)

    refused = sign(pair, "")
    assert refused.status == 422
    assert refused.links()["Code of your app"] == "#field-code"
    assert pair.state.signatures == {}
    assert "signed" in sign(pair, app.code(world.clock.now)).text
    assert len(pair.state.signatures) == 1


def test_a_colleague_who_has_enrolled_nothing_is_told_what_to_do(world: World) -> None:
    pair = at_signing(world)
    world.publishes_policy(second_factor=ASKED)
    pair.page(pair.second, "/sign")

    page = pair.second.press(
        "Sign this record", login=SECOND_NURSE, secret=world.secrets[SECOND_NURSE], code=""
    )

    assert page.status == 422
    assert "sign in yourself and enrol it" in page.text


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"secret": "no such secret"}, "This is not your secret."),
        ({"code": "000000"}, "This is not what your app shows now."),
        ({"secret": ""}, "Write your secret."),
        ({"code": ""}, "Write the code."),
    ],
)
def test_nothing_is_enrolled_without_secret_and_code_and_the_app_stays_right(
    world: World, given: dict[str, str], says: str
) -> None:
    browser = world.at(FIRST_NURSE)
    app = enrols(world, browser, FIRST_NURSE, **given)

    assert browser.page.status == 422
    assert says in browser.page.text
    assert app_shown(browser.page) == app
    assert "Nothing is enrolled." in browser.get("/authenticator").text


def test_a_page_of_another_session_enrols_nothing(world: World) -> None:
    first = app_shown(world.at(FIRST_NURSE).get("/authenticator"))
    browser = world.at(FIRST_NURSE)
    browser.get("/authenticator")

    page = browser.press(ENROL, code=first.code(world.clock.now), secret=world.secrets[FIRST_NURSE])

    assert page.status == 422


def test_an_administrator_takes_away_what_was_lost_and_person_and_charge_nurse_are_told(world: World) -> None:
    enrols(world, world.at(FIRST_NURSE), FIRST_NURSE)
    admin = world.at("a.moreau")
    page = admin.get(f"/accounts/{world.person(FIRST_NURSE).id}")
    assert "an app that shows codes" in page.text

    page = admin.press("Take the authenticators away")

    assert "nothing enrolled" in page.text
    for login, whose in ((FIRST_NURSE, "Your own"), ("r.calloway", "Nadia Ferrow, n.ferrow")):
        told = world.browser()
        world.sign_in(told, login)
        assert told.page.heading == "My signature"
        assert "An authenticator was taken away." in told.page.text
        assert "A login was reset." not in told.page.text
        assert f"{whose}:" in told.page.text
        assert told.press("I have read this").heading == "My checks"
