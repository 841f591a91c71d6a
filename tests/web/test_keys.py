"""The pages of signing keys: a new key is confirmed face to face, and every reset is told."""

import re

import pytest

from app.workflow import accounts
from app.workflow.signing_in import SecretSet, replace_code
from tests.support.browser import Browser
from tests.support.world import World

NEW_SECRET = "eleven kites over the salt marsh"


def reset(world: World, login: str, by: str = "a.moreau") -> None:
    """The administrator resets the account, and its person sets a new secret."""
    people = {login: world.person(login).id, by: world.person(by).id}
    done = accounts.reset_account(world.site, world.clock.now, by=people[by], person=people[login])
    assert isinstance(done, accounts.Changed)
    world.clock.pass_(minutes=1)
    set_ = replace_code(world.site, world.clock.now, login=login, code=done.code, secret=NEW_SECRET)
    assert set_ == SecretSet()
    world.secrets = {**world.secrets, login: NEW_SECRET}
    world.clock.pass_(minutes=1)


def administrator(world: World) -> str:
    with world.site.store.read() as reader:
        return next(
            each.login for each in reader.people() if "administrator" in {r.value for r in each.roles}
        )


def kid_of(world: World, login: str) -> str:
    person = world.person(login).id
    with world.site.store.read() as reader:
        key = reader.live_key(person)
    assert key is not None
    return key.kid


@pytest.fixture
def renewed(world: World) -> Browser:
    """A nurse who was reset, signed in for the first time since."""
    reset(world, "n.ferrow", administrator(world))
    browser = world.browser()
    world.sign_in(browser, "n.ferrow")
    return browser


def test_a_reset_is_told_at_the_next_sign_in(world: World, renewed: Browser) -> None:
    assert renewed.page.path == "/keys"
    text = " ".join(renewed.page.text.split())
    assert "One-time codes given for your login" in text
    assert world.person(administrator(world)).printed_name in text
    assert "Not confirmed yet" in text
    again = world.browser()
    world.clock.pass_(minutes=1)
    assert world.sign_in(again, "n.ferrow").path == "/"


def test_who_was_not_reset_goes_to_their_checks(world: World) -> None:
    browser = world.browser()
    assert world.sign_in(browser, "t.osmund").path == "/"
    browser.get("/keys")
    assert "Confirmed" in browser.page.text
    assert "One-time codes" not in browser.page.text


@pytest.mark.usefixtures("renewed")
def test_a_colleague_confirms_and_the_key_waits_no_more(world: World) -> None:
    kid = kid_of(world, "n.ferrow")
    colleague = world.at("t.osmund")
    colleague.get("/keys")
    assert f"/keys/{kid}/confirm" in colleague.page.links().values()
    colleague.get(f"/keys/{kid}/confirm")
    assert kid in colleague.page.text
    page = colleague.press("I know this person", login="t.osmund", secret=world.secrets["t.osmund"])
    assert page.path == "/keys"
    assert "None that you can confirm" in page.text
    assert colleague.get(f"/keys/{kid}/confirm").status == 404


@pytest.mark.parametrize(
    ("login", "says"),
    [
        ("n.ferrow", "Neither the key"),
        ("administrator", "Neither the key"),
        # Two people at one screen in one sign-in, or one with two logins: nobody can tell.
        ("t.osmund", "Whoever confirms is signed in"),
    ],
)
def test_at_the_nurse_s_own_screen_nobody_confirms(
    world: World, renewed: Browser, login: str, says: str
) -> None:
    who = administrator(world) if login == "administrator" else login
    renewed.get(f"/keys/{kid_of(world, 'n.ferrow')}/confirm")
    page = renewed.press("I know this person", login=who, secret=world.secrets[who])
    assert page.status == 422
    assert says in page.text


def test_where_the_secret_was_set_a_colleague_signs_in_anew_to_confirm(world: World) -> None:
    """A colleague was signed in at this screen when the code was replaced on it."""
    shared = world.at("t.osmund")
    person, by = world.person("n.ferrow").id, world.person(administrator(world)).id
    given = accounts.reset_account(world.site, world.clock.now, by=by, person=person)
    assert isinstance(given, accounts.Changed)
    shared.get("/first-secret")
    shared.press("Set", login="n.ferrow", code=given.code, secret=NEW_SECRET, again=NEW_SECRET)
    confirm, secret = f"/keys/{kid_of(world, 'n.ferrow')}/confirm", world.secrets["t.osmund"]
    world.clock.pass_(minutes=1)
    shared.get(confirm)
    page = shared.press("I know this person", login="t.osmund", secret=secret)
    assert page.status == 422
    assert "anew on this one" in page.text
    world.sign_in(shared, "t.osmund")
    shared.get(confirm)
    assert shared.press("I know this person", login="t.osmund", secret=secret).path == "/keys"


@pytest.mark.usefixtures("renewed")
def test_a_wrong_secret_confirms_nothing(world: World) -> None:
    colleague = world.at("t.osmund")
    colleague.get(f"/keys/{kid_of(world, 'n.ferrow')}/confirm")
    page = colleague.press("I know this person", login="t.osmund", secret="not the right one at all")
    assert page.status == 422
    assert "do not belong together" in page.text
    assert re.search(r"not the right one", page.text) is None


def test_one_s_secret_is_changed(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/keys/secret")
    page = browser.press(
        "Change my secret", secret=world.secrets["n.ferrow"], new=NEW_SECRET, again=NEW_SECRET
    )
    assert page.path == "/keys"
    assert "Confirmed" in page.text
    world.secrets = {**world.secrets, "n.ferrow": NEW_SECRET}
    assert world.at("n.ferrow").page.path == "/"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"secret": "wrong wrong wrong wrong"}, "This is not your secret"),
        ({"new": "short", "again": "short"}, "at least 15 characters"),
        ({"again": "another one than this"}, "not the same"),
        ({"new": ""}, "Write a secret"),
    ],
)
def test_a_secret_that_is_not_changed(world: World, given: dict[str, str], says: str) -> None:
    browser = world.at("n.ferrow")
    browser.get("/keys/secret")
    usual = {"secret": world.secrets["n.ferrow"], "new": NEW_SECRET, "again": NEW_SECRET}
    page = browser.press("Change my secret", **usual | given)
    assert page.status == 422
    assert says.lower() in page.text.lower()
    assert NEW_SECRET not in page.text
