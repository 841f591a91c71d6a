"""What a form asks for: a session that six digits opened, or id and secret, with each act or in the form."""

from collections.abc import Iterator

import pytest

from app.base import Method
from app.people import MAY, Asked, Role, may
from app.records.state import Phase
from app.web.access import access_of
from tests.story.pages import FIRST_NURSE, pair_of
from tests.support.world import UNIT, World
from tests.web.test_unlocking import PIN, by_pin

ONCE_MORE = "Id and secret, once more"
# Something in every field that a form of these routes needs.
FIELDS = {
    "login": "i.newcomer",
    "staff_number": "DM-7788",
    "printed_name": "Ines Newcomer",
    "roles": "nurse",
    "unit": UNIT,
    "outcome": "other",
    "more": "looked at it together",
    "finding": "0" * 16,
    "reason": "the prescriber was asked",
    "first": "2031-05-01",
    "last": "2031-05-03",
    "form": "csv",
}


def posts(world: World, asked: Asked, login: str) -> Iterator[str]:
    """The addresses of all forms that ask this of somebody."""
    roles = world.person(login).roles
    adapter = world.app.url_map.bind("localhost", url_scheme="https")
    for rule in world.app.url_map.iter_rules():
        access = access_of(world.app, rule.endpoint)
        if access.public or "POST" not in (rule.methods or ()) or access.asked_of(roles) is not asked:
            continue
        if access.needs and not any(may(roles, each) for each in access.needs):
            continue
        values = dict.fromkeys(rule.arguments, "0" * 32)
        if "person" in values:
            values["person"] = world.person("i.bexley").id
        yield adapter.build(rule.endpoint, values, method="POST")


_CHANGED_BY_FORMS = ("person", "person_role", "personal_key_sealed", "signature", "help_taker")


def everything(world: World) -> list[object]:
    """Whatever a form could change."""
    with world.site.store.read() as reader:
        return [
            reader.head(),
            *([*map(str, reader.rows(table))] for table in _CHANGED_BY_FORMS),
        ]


WHO_ASKS = {
    "r.calloway": {"/help/take", "/help/settle", "/exception"},
    "p.varga": {"/help/take", "/help/settle", "/exception", "/export"},
    "q.lindqvist": {"/export"},
    "a.moreau": {"/accounts/new", "/reset", "/deactivate", "/activate", "/roles"},
}


@pytest.mark.parametrize("opened_by", [Method.SECRET, Method.PIN])
@pytest.mark.parametrize("login", WHO_ASKS)
def test_what_asks_for_id_and_secret_each_time_does_nothing_without(
    world: World, login: str, opened_by: Method
) -> None:
    browser = world.at(login) if opened_by is Method.SECRET else by_pin(world, login)
    token, browser.credential = browser.token(), None
    before, asked = everything(world), list(posts(world, Asked.EACH_TIME, login))

    for address in asked:
        page = browser.post(address, [("csrf_token", token), *FIELDS.items()])
        assert (page.status, page.heading) == (422, ONCE_MORE), address
        # Nothing of what was written is lost.
        held = dict(page.form_with("Do it")[0].held)
        assert FIELDS.items() <= held.items()
        # And the digits are not the secret.
        wrong = {"own_id": login, "own_secret": PIN}
        page = browser.post(address, [("csrf_token", token), *FIELDS.items(), *wrong.items()])
        assert page.status == 422
        assert "do not belong together" in page.text or "Too many tries" in page.text
        assert PIN not in page.body
    after = everything(world)

    assert {end for end in WHO_ASKS[login] if any(each.endswith(end) for each in asked)} == WHO_ASKS[login]
    # The log says that somebody failed, and nothing else happened.
    assert after[1:] == before[1:]


@pytest.mark.parametrize("opened_by", [Method.SECRET, Method.PIN])
def test_forms_that_ask_in_themselves_do_nothing_without(world: World, opened_by: Method) -> None:
    browser = world.at(FIRST_NURSE) if opened_by is Method.SECRET else by_pin(world)
    before, token = everything(world), browser.token()
    asked = list(posts(world, Asked.IN_ITS_FORM, FIRST_NURSE))

    for address in asked:
        assert browser.post(address, [("csrf_token", token), *FIELDS.items()]).status in (404, 422), address
    assert [each.rsplit("/", 1)[1] for each in sorted(asked)] == [
        "enrol",
        "sign",
        "witness",
        # A syringe that comes back unopened: whoever receives it signs there.
        "0",
        "witness",
        "confirm",
        "secret",
        # The own record of checks on training cards.
        "sign",
    ]
    assert everything(world) == before


@pytest.mark.parametrize(
    ("login", "address"),
    [
        ("a.moreau", "/accounts"),
        ("a.moreau", "/accounts/new"),
        ("p.varga", "/export"),
        ("q.lindqvist", "/verify"),
    ],
)
def test_a_page_that_six_digits_do_not_open_leads_to_signing_in(
    world: World, login: str, address: str
) -> None:
    browser = by_pin(world, login)

    assert browser.get(address).heading == "Sign in"
    world.sign_in(browser, login)
    assert browser.get(address).path == address


def test_with_id_and_secret_it_is_done_and_the_log_says_that_they_were_given(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.ESCALATED)
    browser = by_pin(world, "r.calloway")
    browser.get(f"/check/{pair.check}")
    browser.press("Take this request for help")

    with world.site.store.read() as reader:
        entries = reader.log_entries(after=0, limit=10_000)
        taken = [each for each in entries if each.event.kind == "help-taken"]
        session = reader.find_session(taken[0].session.partition("+")[0])
    assert session is not None
    assert session.method == Method.PIN
    assert taken[0].session == f"{session.digest}+{world.person('r.calloway').id}"
    assert taken[0].signed_in_at == taken[0].at


def test_another_persons_id_and_secret_do_nothing(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.ESCALATED)
    browser = world.at("r.calloway")
    browser.credential = ("p.varga", world.secrets["p.varga"])
    browser.get(f"/check/{pair.check}")
    page = browser.press("Take this request for help")

    assert page.status == 422
    assert "not whoever is signed in here" in page.text
    assert pair.phase() is Phase.ESCALATED
    assert [each.taken_by for each in pair.state.help] == [""]


def test_every_form_says_what_it_asks_for(world: World) -> None:
    asked = dict.fromkeys(Asked, 0)
    for rule in world.app.url_map.iter_rules():
        access = access_of(world.app, rule.endpoint)
        if access.public or "POST" not in (rule.methods or ()):
            continue
        # By its permission, whose table is whole, or by itself: never by nobody's word.
        assert access.asked is not None or access.needs, rule.endpoint
        roles = {role for role in Role if not access.needs or MAY[role] & set(access.needs)}
        asked[access.asked_of(roles)] += 1

    assert asked[Asked.PIN] > 20
    assert asked[Asked.EACH_TIME] >= 9
    assert asked[Asked.IN_ITS_FORM] == 9
