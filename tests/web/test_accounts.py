"""Accounts, for the administrator alone."""

from app.people import Role
from tests.support.browser import Browser, Page
from tests.support.world import World

NEW = {"printed_name": "Oona Marsh", "login": "o.marsh", "staff_number": "DM-9001", "unit": "recovery"}


def code_on(page: Page) -> str:
    """The one-time code on the page; blank when there is none."""
    codes = ["".join(each.itertext()) for each in page.all("p") if each.get("class") == "one-time-code exact"]
    return codes[0] if codes else ""


def make(browser: Browser, roles: list[str], **changed: str) -> Page:
    """Fill in the form of a new account."""
    browser.get("/accounts/new")
    return browser.press("Make the login", roles=roles, **{**NEW, **changed})


def test_a_new_account_shows_its_code_once(world: World) -> None:
    browser = world.at("a.moreau")

    page = make(browser, ["nurse", "quality"])

    assert len(code_on(page)) == len("XXXX-XXXX-XXXX-XXXX")
    made = world.person("o.marsh")
    assert made.roles == {Role.NURSE, Role.QUALITY}
    assert made.secret_hash is None
    again = browser.get(f"/accounts/{made.id}")
    assert code_on(again) == ""
    assert "one-time code not yet replaced" in again.text


def test_an_account_with_only_a_code_cannot_sign_in(world: World) -> None:
    code = code_on(make(world.at("a.moreau"), ["nurse"]))
    browser = world.browser()
    browser.get("/sign-in")

    assert browser.press("Sign in", login="o.marsh", secret=code, unit="recovery").status == 422


def test_ids_and_staff_numbers_are_never_used_twice(world: World) -> None:
    browser = world.at("a.moreau")
    browser.get(f"/accounts/{world.person('n.ferrow').id}")
    browser.press("Deactivate")

    page = make(browser, ["nurse"], login="N.Ferrow")
    assert page.status == 422
    assert "Ids are never used again" in page.text

    page = make(browser, ["nurse"], staff_number="DM-2001")
    assert page.status == 422
    assert "One person has one login" in page.text


def test_a_mixed_alphabet_is_refused_beside_its_field(world: World) -> None:
    page = make(world.at("a.moreau"), ["nurse"], login="o.m\N{CYRILLIC SMALL LETTER A}rsh")

    assert page.status == 422
    assert "here Latin and Cyrillic are mixed" in page.text
    assert "#field-login" in page.links().values()
    assert 'value="DM-9001"' in page.body


def test_the_same_name_asks_whether_it_is_another_person(world: World) -> None:
    browser = world.at("a.moreau")

    page = make(browser, ["nurse"], printed_name="NADIA  Ferrow")
    assert page.status == 422
    assert "staff number DM-2001" in " ".join(page.text.split())

    page = browser.press("Make the login", is_another="yes")
    assert code_on(page)
    assert world.person("o.marsh").printed_name == "NADIA  Ferrow"


def test_an_account_is_one_persons(world: World) -> None:
    page = make(world.at("a.moreau"), ["nurse"], login="Ward")

    assert page.status == 422
    assert "one person's" in page.text


def test_what_is_missing_is_said_and_what_was_written_stays(world: World) -> None:
    page = make(world.at("a.moreau"), [], printed_name=" ", unit="")

    assert page.status == 422
    assert {"#field-printed_name", "#field-unit", "#field-roles"} <= set(page.links().values())
    assert 'value="o.marsh"' in page.body


def test_a_role_that_does_not_exist_is_refused(world: World) -> None:
    browser = world.at("a.moreau")
    person = world.person("n.ferrow").id
    browser.get(f"/accounts/{person}")

    page = browser.post(f"/accounts/{person}/roles", [("csrf_token", browser.token()), ("roles", "surgeon")])

    assert page.status == 422
    assert world.person("n.ferrow").roles == {Role.NURSE}


def test_an_account_without_a_role_is_refused(world: World) -> None:
    browser = world.at("a.moreau")
    browser.get(f"/accounts/{world.person('n.ferrow').id}")

    page = browser.press("Change the roles", roles=[])

    assert page.status == 422
    assert world.person("n.ferrow").roles == {Role.NURSE}


def test_a_reset_voids_the_secret_and_every_session_at_once(world: World) -> None:
    nurse, browser = world.at("n.ferrow"), world.at("a.moreau")
    browser.get(f"/accounts/{world.person('n.ferrow').id}")

    assert code_on(browser.press("new one-time code"))

    assert nurse.get("/").heading == "Sign in"
    assert world.sign_in(world.browser(), "n.ferrow").status == 422


def test_an_account_is_brought_back(world: World) -> None:
    browser = world.at("a.moreau")
    browser.get(f"/accounts/{world.person('n.ferrow').id}")
    assert "deactivated" in browser.press("Deactivate").text

    assert "in use" in browser.press("Bring the login back").text

    assert world.sign_in(world.browser(), "n.ferrow").path == "/"


def test_every_account_is_listed_with_how_it_stands(world: World) -> None:
    browser = world.at("a.moreau")
    make(browser, ["nurse"])
    world.clock.pass_(seconds=200)

    page = browser.get("/accounts")

    assert "Nadia Ferrow" in page.text
    assert "one-time code not yet replaced" in page.text


def test_a_code_that_is_too_old_says_so(world: World) -> None:
    make(world.at("a.moreau"), ["nurse"])
    world.clock.pass_(days=3, seconds=1)

    assert "one-time code too old" in world.at("a.moreau").get("/accounts").text


def test_an_account_that_does_not_exist_is_not_found(world: World) -> None:
    browser = world.at("a.moreau")
    for rest in ("", "/reset", "/deactivate", "/activate", "/roles"):
        path = "/accounts/none" + rest
        browser.get("/accounts/new")
        fields = [("csrf_token", browser.token()), ("roles", "nurse")]
        page = browser.post(path, fields) if rest else browser.get(path)
        assert page.status == 404, path


def test_an_administrator_sees_nothing_clinical(world: World) -> None:
    _, _, check = world.pair()
    browser = world.at("a.moreau")

    assert browser.get(f"/check/{check}/read").status == 403
    assert browser.get(f"/check/{check}").status in (403, 404)


def test_faults_are_told_in_the_order_of_the_fields(world: World) -> None:
    browser = world.at("a.moreau")
    browser.get("/accounts/new")
    page = browser.press("Make the login")
    words = page.text.index
    assert words("Write the name.") < words("Write the id.") < words("Choose at least one role.")


def test_logins_that_nobody_has_used_for_the_site_s_time_are_listed_the_longest_first(world: World) -> None:
    world.publishes_policy(login_unused_days=30)
    world.at("n.ferrow")
    browser = world.at("a.moreau")
    make(browser, ["nurse"])
    assert "everybody who has a login" in browser.get("/accounts/unused").text.lower()
    world.clock.pass_(days=20)
    world.at("n.ferrow")
    world.clock.pass_(days=11)
    browser = world.at("a.moreau")
    page = browser.get("/accounts/unused")
    rows = ["".join(each.itertext()).split() for each in page.all("tr")][1:]
    named = [" ".join(each[:2]) for each in rows]
    assert "Oona Marsh" in named
    assert "Nadia Ferrow" not in named
    assert "Adele Moreau" not in named
    assert "never; made 2 May 2031" in " ".join(page.text.split())
    # Made the day before, and never used either.
    assert named.index("Tomas Osmund") < named.index("Oona Marsh")


def test_a_login_that_was_deactivated_is_waited_for_no_more(world: World) -> None:
    world.publishes_policy(login_unused_days=30)
    world.clock.pass_(days=31)
    browser = world.at("a.moreau")
    assert "Tomas Osmund" in browser.get("/accounts/unused").text
    browser.follow("Tomas Osmund")
    browser.press("Deactivate")
    assert "Tomas Osmund" not in browser.get("/accounts/unused").text


def test_without_the_site_s_time_no_login_is_listed(world: World) -> None:
    world.clock.pass_(days=4000)
    assert "names no time" in world.at("a.moreau").get("/accounts/unused").text


def renames(world: World, name: str) -> tuple[Browser, Page]:
    browser = world.at("a.moreau")
    browser.get(f"/accounts/{world.person('n.ferrow').id}")
    return browser, browser.press("Change the name", printed_name=name)


def test_a_person_is_called_otherwise_and_gets_a_one_time_code(world: World) -> None:
    browser, page = renames(world, " Nadia Ferrow-Lind ")

    assert code_on(page)
    assert world.person("n.ferrow").printed_name == "Nadia Ferrow-Lind"
    assert world.person("n.ferrow").secret_hash is None
    assert code_on(browser.get(f"/accounts/{world.person('n.ferrow').id}")) == ""


def test_the_same_name_again_changes_nothing(world: World) -> None:
    _, page = renames(world, "Nadia Ferrow")

    assert page.status == 200
    assert code_on(page) == ""
    assert world.person("n.ferrow").secret_hash is not None


def test_anothers_name_is_said_to_be_another_persons_before_somebody_is_called_so(world: World) -> None:
    browser, page = renames(world, "TOMAS Osmund")

    assert page.status == 422
    assert "Say whether it is another person." in page.text
    assert world.person("n.ferrow").printed_name == "Nadia Ferrow"
    assert code_on(browser.press("Change the name", is_another="yes"))
    assert world.person("n.ferrow").printed_name == "TOMAS Osmund"


def test_a_name_that_is_missing_is_said_beside_its_field(world: World) -> None:
    _, page = renames(world, "  ")

    assert page.status == 422
    assert "Write the name." in page.text
    assert world.person("n.ferrow").printed_name == "Nadia Ferrow"
