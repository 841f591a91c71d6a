"""The pages of signing keys: a new key is confirmed face to face, and every reset is told."""

import re

import pytest

from app.people import Role
from app.records.events import ResetRead
from app.records.kept import Entry
from app.web.access import access_of
from app.workflow import accounts
from app.workflow.credentials import Where, try_credential
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


def told_entries(world: World) -> list[Entry]:
    with world.site.store.read() as reader:
        return [
            each for each in reader.log_entries(after=0, limit=10_000) if isinstance(each.event, ResetRead)
        ]


def confirm(world: World, login: str, by: str) -> None:
    """A colleague confirms the key on a screen of their own."""
    colleague = world.at(by)
    colleague.get(f"/keys/{kid_of(world, login)}/confirm")
    assert colleague.press("I know this person", login=by, secret=world.secrets[by]).path == "/keys"


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


def test_a_reset_is_told_at_every_sign_in_until_it_is_read(world: World, renewed: Browser) -> None:
    for browser in (renewed, world.browser()):
        world.sign_in(browser, "n.ferrow")
        assert browser.page.path == "/keys"
        text = " ".join(browser.page.text.split())
        assert "A login was reset. Whoever has its one-time code" in text
        assert "Your own:" in text
        assert world.person(administrator(world)).printed_name in text
        assert "Not confirmed yet" in text
        world.clock.pass_(minutes=1)
    again = world.browser()
    world.sign_in(again, "n.ferrow")
    again.press("I have read this")
    confirm(world, "n.ferrow", "t.osmund")
    assert world.sign_in(world.browser(), "n.ferrow").path == "/"


@pytest.mark.usefixtures("renewed")
def test_the_charge_nurse_of_the_unit_is_told_at_her_next_page_until_she_has_read_it(world: World) -> None:
    charge, nurse = world.browser(), world.at("t.osmund")
    assert world.sign_in(charge, "r.calloway").path == "/keys"
    # Also during a shift elsewhere.
    assert world.sign_in(charge, "r.calloway", unit="recovery").path == "/keys"
    world.sign_in(charge, "r.calloway")
    page = charge.get("/findings")
    assert "A login was reset, or its authenticator taken away: yours or one of this unit" in " ".join(
        page.text.split()
    )
    page = charge.get("/keys")
    assert "Nadia Ferrow, n.ferrow" in " ".join(page.text.split())
    assert "no new key confirmed yet" in page.text
    assert charge.press("I have read this").path == "/"
    assert "login was reset" not in charge.get("/keys").text
    # Nobody else of the unit is told, and each who was stands in the log.
    assert "login was reset" not in nurse.get("/keys").text
    assert [each.by for each in told_entries(world)] == [world.person("r.calloway").id]


def test_a_charge_nurse_who_is_signed_in_is_told_on_whatever_page_comes_next(world: World) -> None:
    charge = world.at("r.calloway")
    assert "login was reset" not in charge.get("/").text
    reset(world, "n.ferrow", administrator(world))
    assert "A login was reset" in charge.get("/").text
    # But for where a patient is to be protected first.
    assert "A login was reset" not in charge.get("/stop").text


def test_a_new_login_is_no_reset(world: World) -> None:
    charge = world.at("r.calloway")
    person = accounts.NewPerson(
        login="o.marsh",
        staff_number="DM-9001",
        printed_name="Oona Marsh",
        roles=frozenset({Role.NURSE}),
        unit=world.person("r.calloway").unit,
    )
    made = accounts.make_account(
        world.site, world.clock.now, by=world.person("a.moreau").id, new_id="oona", person=person
    )
    assert isinstance(made, accounts.AccountMade)
    assert "login was reset" not in charge.get("/keys").text


@pytest.mark.parametrize("until", ["", "yesterday", "2031-05-02"])
def test_what_no_page_of_ours_sends_reads_nothing(world: World, renewed: Browser, until: str) -> None:
    sent = [("csrf_token", renewed.token()), ("until", until)]
    assert renewed.post("/keys/resets-read", sent).status == 422
    assert told_entries(world) == []


# Seen by a colleague before anything at a patient.


def test_until_a_colleague_has_seen_a_reset_nurse_she_takes_up_nothing(
    world: World, renewed: Browser
) -> None:
    for path in ("/open", "/join"):
        assert renewed.get(path).path == "/keys", path
    assert "you take up nothing at a patient" in " ".join(renewed.page.text.split())
    sent = [("csrf_token", renewed.token()), ("unit", "ward-4-east"), ("bed", "7")]
    assert renewed.post("/open", sent).path == "/keys"
    # Looking and stopping never wait.
    assert renewed.get("/").status == 200
    assert renewed.get("/stop").path == "/stop"
    assert renewed.get("/started-without-check").path == "/started-without-check"
    confirm(world, "n.ferrow", "t.osmund")
    assert renewed.get("/open").path == "/open"


def test_saying_danger_and_pausing_wait_for_nobody_to_be_seen(world: World) -> None:
    protecting = {
        endpoint for endpoint in world.app.view_functions if access_of(world.app, endpoint).protects
    }
    assert protecting == {
        "changing.lower_now",
        "changing.page",
        "emergencies.after",
        "emergencies.note",
        "emergencies.of_check",
        "emergencies.page",
        "emergencies.seal",
        "emergencies.tell",
        "pausing.pause_now",
        "pausing.pause_page",
        "reading.danger_page",
        "reading.say_danger",
        "stopping.had_to_start",
        "stopping.had_to_start_page",
        "stopping.stop_at_now",
        "stopping.stop_at_page",
        "stopping.stop_now",
        "stopping.stop_page",
        "stopping.stop_unchecked_now",
        "stopping.stop_unchecked_page",
        "stopping.stopped_at_page",
        "stopping.stopped_page",
        "stopping.stopped_unchecked_page",
        "stopping.without_check_now",
        "stopping.without_check_page",
    }
    stopping = {each for each in world.app.view_functions if each.startswith("stopping.")}
    acts = {each for each in stopping if access_of(world.app, each).is_act_of([Role.NURSE])}
    assert acts == set()


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


@pytest.mark.parametrize(
    ("by", "other"),
    [("n.ferrow", ""), ("a.moreau", ""), ("t.osmund", "t.osmund"), ("r.calloway", "n.ferrow")],
    ids=["its own person", "who gave the code", "one whose own key waits", "of a retired key"],
)
def test_a_key_is_offered_to_nobody_who_cannot_confirm_it(world: World, by: str, other: str) -> None:
    """The page alone: what refuses behind it is tried in `tests/workflow/test_confirmations_refused.py`."""
    reset(world, "n.ferrow", "a.moreau")
    offered = f"/keys/{kid_of(world, 'n.ferrow')}/confirm"
    assert offered in keys_page(world, "r.calloway")
    if other:
        reset(world, other, "a.moreau")
    assert offered not in keys_page(world, by)


def keys_page(world: World, login: str) -> str:
    browser = world.browser()
    world.sign_in(browser, login)
    return browser.get("/keys").body


def refused_signings(world: World, login: str) -> None:
    """As many as the site's policy names."""
    world.publishes_policy(refused_signings={"count": 3, "within_minutes": 30})
    for number in range(3):
        world.clock.pass_(seconds=1)
        where = Where(signed_in=f"somebody {number}")
        try_credential(
            world.site, world.clock.now, login=login, secret="wrong" * 5, what="signing", where=where
        )


@pytest.mark.parametrize("login", ["r.calloway", "a.moreau"])
def test_refused_signings_are_told_on_whatever_page_comes_next_until_they_are_read(
    world: World, login: str
) -> None:
    browser = world.at(login)
    refused_signings(world, "n.ferrow")
    page = browser.get("/verify" if login == "a.moreau" else "/")
    assert "Signings were refused again and again" in page.text
    # But for where a patient is to be protected first.
    if login == "r.calloway":
        assert "Signings were refused" not in browser.get("/stop").text
    page = browser.get("/keys")
    assert "Nadia Ferrow, n.ferrow: 3 times from 2 May 2031" in " ".join(page.text.split())
    browser.press("I have read of these signings")
    assert "Signings were refused" not in browser.get("/keys").text
    assert "Signings were refused" not in world.at("t.osmund").get("/keys").text
