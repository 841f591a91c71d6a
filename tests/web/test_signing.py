import json

import pytest

from app.records.kinds import SET_UP
from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair, at_signing, at_steps, cleared, compared
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World

SIGN = "Sign this record"


def sign(pair: Pair, browser: Browser, login: str, secret: str = "") -> Page:
    """Sign at a browser with id and secret."""
    pair.page(browser, "/sign")
    return browser.press(SIGN, login=login, secret=secret or pair.world.secrets[login])


def test_what_is_signed_stands_on_the_page_in_readable_form(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    pair.put_right("label", answers())
    pair.take_steps()
    text = pair.page(pair.first, "/sign").text
    for stands in (
        "HYDROmorphone",
        "0.2 mg/mL",
        "FIVE TIMES",
        "Syringe replaced: all of it was read again, by each alone.",
        "Traced by hand from syringe to vein",
        "Primed volume, read by the first nurse 2.3 mL",
        SET_UP.meaning,
        "steps-7",
    ):
        assert stands in text, stands


def test_a_summary_stands_first_then_the_whole_record_then_the_place_to_sign(world: World) -> None:
    pair = at_signing(world)
    page = pair.page(pair.first, "/sign")
    assert page.links()["Go to signing"] == "#signing"
    main = words_of(page.with_id("main"))
    short = main[: main.index("Read the whole record")]
    for stands in (
        "Drug HYDROmorphone",
        "Concentration 0.2 mg/mL",
        "Demand dose 0.2 mg",
        "Lockout 10 min",
        "Limit 2 mg in 4 h",
        "Patient identifier",
        "Digest of the record",
    ):
        assert stands in short, stands
    order = [main.index(each) for each in ("Safety steps", "By signing I say", "Secret", SIGN)]
    assert order == sorted(order), "what is signed can be read before it is signed"


def test_who_has_signed_sees_how_it_goes_on(world: World) -> None:
    pair = at_signing(world)
    assert "You have signed:" not in pair.page(pair.first, "/sign").text
    page = sign(pair, pair.first, FIRST_NURSE)
    assert "You have signed:" in page.text
    assert "Your colleague signs First nurse" in page.text
    assert page.links()["Refresh"] == f"/check/{pair.check}/sign"
    assert "You have signed:" not in pair.page(pair.second, "/sign").text

    sign(pair, pair.second, SECOND_NURSE)

    pair.first.page = page
    assert pair.first.follow("Refresh").path == f"/check/{pair.check}/start"


def test_each_signs_with_a_credential_of_ones_own(world: World) -> None:
    pair = at_signing(world)
    page = sign(pair, pair.first, FIRST_NURSE)
    assert "Nadia Ferrow: signed" in page.text
    assert "Tomas Osmund: not signed yet" in page.text
    assert pair.phase() is Phase.SIGNING
    page = sign(pair, pair.second, SECOND_NURSE)
    assert page.heading == "Ready to start: one last look at the device"
    assert pair.phase() is Phase.CLEARED


def test_both_sign_on_one_screen(world: World) -> None:
    pair = at_signing(world)
    for login in (FIRST_NURSE, SECOND_NURSE):
        sign(pair, pair.first, login)
    assert pair.phase() is Phase.CLEARED
    assert {each.by for each in pair.state.signatures.values()} == {
        world.person(FIRST_NURSE).id,
        world.person(SECOND_NURSE).id,
    }


def test_a_wrong_secret_signs_nothing_and_is_not_sent_back(world: World) -> None:
    pair = at_signing(world)
    page = sign(pair, pair.first, FIRST_NURSE, "not my secret")
    assert page.status == 422
    assert "Nothing was signed." in page.text
    assert "not my secret" not in page.body
    assert dict(page.form_with(SIGN)[0].held)["login"] == FIRST_NURSE
    assert pair.state.signatures == {}


def test_after_many_wrong_secrets_there_is_a_wait(world: World) -> None:
    pair = at_signing(world)
    for _ in range(4):
        sign(pair, pair.first, FIRST_NURSE, "not my secret")
    page = sign(pair, pair.first, FIRST_NURSE)
    assert page.status == 422
    assert "Too many tries with this id. Wait" in page.text


def test_who_is_neither_of_the_two_signs_nothing(world: World) -> None:
    pair = at_signing(world)
    page = sign(pair, pair.first, "r.calloway")
    assert page.status == 422
    assert "neither of the two nurses" in page.text
    assert pair.state.signatures == {}


def test_nobody_signs_twice(world: World) -> None:
    pair = at_signing(world)
    sign(pair, pair.first, FIRST_NURSE)
    page = sign(pair, pair.first, FIRST_NURSE)
    assert page.status == 422
    assert "signature is on already" in page.text
    assert len(pair.state.signatures) == 1


def test_another_record_than_the_one_shown_is_not_signed(world: World) -> None:
    pair = at_signing(world)
    pair.page(pair.first, "/sign")
    page = pair.first.press(SIGN, digest="0" * 64, login=FIRST_NURSE, secret=world.secrets[FIRST_NURSE])
    assert page.status == 409
    assert "The record has changed since this page was shown." in page.text
    assert pair.state.signatures == {}


def test_an_open_request_for_help_stops_the_signing(world: World) -> None:
    pair = at_signing(world)
    form, _ = pair.page(pair.first, "/sign").form_with(SIGN)
    pair.page(pair.second, "/help")
    pair.second.press("Ask for help", why="patient")
    sent = [(name, value) for name, value in form.held if name not in ("login", "secret")] + [
        ("login", FIRST_NURSE),
        ("secret", world.secrets[FIRST_NURSE]),
    ]
    page = pair.first.post(form.action, sent)
    assert page.status == 409
    assert "Something is open again" in page.text


@pytest.mark.parametrize("blank", ["login", "secret"])
def test_id_and_secret_are_both_needed(world: World, blank: str) -> None:
    pair = at_signing(world)
    pair.page(pair.first, "/sign")
    given = {"login": FIRST_NURSE, "secret": world.secrets[FIRST_NURSE], blank: ""}
    page = pair.first.press(SIGN, **given)
    assert page.status == 422
    assert pair.state.signatures == {}


def test_there_is_nothing_to_sign_before_the_steps_and_after_clearance(world: World) -> None:
    pair = at_steps(world)
    assert pair.page(pair.first, "/sign").status == 404
    pair.take_steps()
    pair.sign()
    # Whoever waited there for the other's signature goes straight on to the last look.
    assert pair.page(pair.first, "/sign").path == f"/check/{pair.check}/start"


def test_nobody_else_may_see_what_is_about_to_be_signed(world: World) -> None:
    pair = at_signing(world)
    for login in ("r.calloway", "p.varga"):
        assert pair.page(world.at(login), "/sign").status in (403, 404)


def test_the_digest_on_the_page_is_that_of_the_frozen_bytes(world: World) -> None:
    pair = cleared(world)
    with world.site.store.read() as reader:
        (frozen,) = reader.frozen_records(pair.check)
        signatures = reader.signatures(pair.check)
    assert {each.digest for each in signatures} == {frozen.digest}
    assert json.loads(frozen.document)["record"] == pair.check
