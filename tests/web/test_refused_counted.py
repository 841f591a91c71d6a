"""Whoever asks for what is not there for them stands in the list of looks; what they typed does not."""

import pytest

from app.storage import StoreUnavailable
from app.web import refused
from tests.support.browser import ORIGIN, Browser
from tests.support.walking import walk_set_up
from tests.support.world import World


def counted(world: World) -> list[tuple[str, str]]:
    """Who was counted, and as what; looks at a check are left out."""
    with world.site.store.read() as reader:
        rows = list(reader.rows("access"))
        logins = {each.id: each.login for each in reader.people()}
    return [(logins[each["person"]], each["what"]) for each in rows if not each["check"]]


def test_a_look_up_that_is_refused_is_counted(world: World) -> None:
    _, _, check = world.pair()
    stranger = world.at("q.lindqvist")
    assert stranger.get("/check/nothing").status == 404
    # There, and not for this person: the same answer, and the same count.
    assert stranger.get(f"/check/{check}/record").status in (403, 404)
    assert stranger.get("/no/such/address").status == 404
    assert [what.split(": ")[1] for _, what in counted(world)] == [
        "comparison.page",
        "record.page",
        "no such address",
    ]
    assert {who for who, _ in counted(world)} == {"q.lindqvist"}


def test_a_role_that_is_refused_is_counted(world: World) -> None:
    nurse = world.at("n.ferrow")
    assert nurse.get("/accounts").status == 403
    assert nurse.post("/accounts/new", [("csrf_token", "x")]).status == 403
    assert counted(world) == [
        ("n.ferrow", "not for the role: accounts.people_page"),
        ("n.ferrow", "not for the role: accounts.make_now"),
    ]


def test_a_form_without_its_token_is_counted(world: World) -> None:
    nurse = world.at("n.ferrow")
    nurse.post("/open", [("bed", "7")])
    assert counted(world) == [("n.ferrow", "forged: opening.open_now")]


def hands_in_with(browser: Browser, check: str, *more: tuple[str, str]) -> None:
    browser.get(f"/check/{check}/read/wristband")
    form, _ = browser.page.form_with("Keep, and")
    sent = [*(each for each in form.held if each[0] != "identifier"), ("identifier", "DM-1"), ("go", "next")]
    assert browser.post(form.action, [*sent, *more]).status == 200


def test_fields_that_the_form_does_not_have_are_counted_and_not_kept(world: World) -> None:
    browser, _, check = world.pair()
    hands_in_with(browser, check, ("slot", "2"), ("person", "someone 7.3719"))
    assert counted(world) == [("n.ferrow", "2 fields ignored: reading.keep_source")]


def test_the_plain_form_ignores_nothing(world: World) -> None:
    browser, _, check = world.pair()
    hands_in_with(browser, check)
    assert counted(world) == []


def test_a_whole_set_up_counts_nothing_against_its_two(world: World) -> None:
    walk_set_up(world, "7")
    assert counted(world) == []


def test_accounts_keys_and_a_switch_of_people_count_nothing(world: World) -> None:
    administrator = world.at("a.moreau")
    administrator.get("/accounts/new")
    given = {"printed_name": "Oona Marsh", "login": "o.marsh", "staff_number": "DM-9001", "unit": "recovery"}
    administrator.press("Make the login", roles=["nurse"], **given)
    administrator.get(f"/accounts/{world.person('o.marsh').id}")
    administrator.press("Change the roles", roles=["nurse", "quality"])
    administrator.press("new one-time code")
    administrator.press("Deactivate")
    administrator.get("/keys/secret")
    administrator.press("Change my secret", secret=world.secrets["a.moreau"], new="x", again="x")
    administrator.press("Sign out")
    assert counted(world) == []


def test_nobody_who_is_not_signed_in_is_counted(world: World) -> None:
    browser = world.browser()
    browser.client.get("/check/nothing", base_url=ORIGIN)
    browser.client.get("/no/such/address", base_url=ORIGIN)
    assert counted(world) == []


def test_what_cannot_be_counted_takes_nothing_back(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """The act is done and its answer stands, also where the database is gone a moment later."""
    browser, _, check = world.pair()

    def gone(*_given: object) -> None:
        raise StoreUnavailable(outcome_known=True)

    monkeypatch.setattr(refused, "note_refused", gone)
    hands_in_with(browser, check, ("slot", "2"))
    assert "DM-1" in browser.get(f"/check/{check}/read").text
