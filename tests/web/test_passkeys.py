"""Passkeys beside the secret: of this host, for one act of one session, each answer once."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from urllib.parse import quote

import pytest

from app.records import events
from tests.story.pages import FIRST_NURSE, Pair, at_signing
from tests.support.browser import Browser, Page, words_of
from tests.support.passkeys import Key
from tests.support.world import UNIT, World

ASKED = {"nurse": "passkey"}
SIGN = "Sign this record"


def challenge(browser: Browser, act: str) -> str:
    """What a script of the page gets."""
    answer = browser.client.get(f"/passkey-challenge?for={quote(act)}", base_url="https://localhost")
    assert answer.status_code == 200
    return str(answer.get_data(as_text=True))


def enrols(world: World, browser: Browser, key: Key, **given: str) -> Page:
    """Enrol a passkey where a nurse is signed in."""
    browser.get("/authenticator")
    usual = {"secret": world.secrets[FIRST_NURSE], "passkey": key.made(challenge(browser, "enrol"))}
    page = browser.press("Enrol this app", **usual | given)
    world.clock.pass_(seconds=1)
    return page


def enrolled(world: World, asked: str = "passkey") -> Key:
    """A nurse's passkey, in a site that asks for one."""
    key = Key()
    browser = world.at(FIRST_NURSE)
    enrols(world, browser, key)
    assert "Enrolled: a passkey." in browser.page.text
    browser.press("Sign out")
    world.publishes_policy(second_factor={"nurse": asked})
    return key


def signs_in(world: World, browser: Browser, answer: str) -> Page:
    browser.get("/sign-in")
    secret = world.secrets[FIRST_NURSE]
    return browser.press("Sign in", login=FIRST_NURSE, secret=secret, unit=UNIT, passkey=answer)


def act_of(page: Page) -> str:
    """What the page's passkey is for."""
    return next(each.get("data-for", "") for each in page.all("button") if each.get("data-passkey"))


def sign(pair: Pair, answer: str) -> Page:
    pair.page(pair.first, "/sign")
    return pair.first.press(SIGN, login=FIRST_NURSE, secret=pair.world.secrets[FIRST_NURSE], passkey=answer)


def test_a_passkey_is_asked_at_sign_in_and_a_code_is_not_where_only_that_counts(world: World) -> None:
    key, browser = enrolled(world), world.browser()
    form, _ = browser.get("/sign-in").form_with("Sign in")
    assert "passkey" in form.names
    assert "code" not in form.names

    refused = signs_in(world, browser, "")
    assert refused.links()["Passkey"] == "#field-passkey"
    assert "asked for a passkey beside the secret" in words_of(refused.with_id("fault-passkey"))
    assert signs_in(world, browser, key.given(challenge(browser, "sign-in"))).heading == "My checks"
    with world.site.store.read() as reader:
        noted = [each.event for each in reader.entries_of_kind(events.SecurityNoted.kind)]
    assert vars(noted[-1])["what"] == "signed in, with a passkey"


def test_an_answer_counts_once(world: World) -> None:
    key, browser = enrolled(world), world.browser()
    answer = key.given(challenge(browser, "sign-in"))

    assert signs_in(world, browser, answer).heading == "My checks"
    browser.press("Sign out")
    refused = signs_in(world, browser, answer)
    assert refused.status == 422
    assert refused.links()["Passkey"] == "#field-passkey"


def test_also_of_one_that_counts_nothing_an_answer_counts_once(world: World) -> None:
    key = Key(counts=0)
    browser = world.at(FIRST_NURSE)
    enrols(world, browser, key)
    browser.press("Sign out")
    world.publishes_policy(second_factor=ASKED)
    answer = key.given(challenge(browser, "sign-in"))
    world.clock.pass_(seconds=1)

    assert signs_in(world, browser, answer).heading == "My checks"
    browser.press("Sign out")
    assert "was used already" in signs_in(world, browser, answer).text
    assert signs_in(world, browser, key.given(challenge(browser, "sign-in"))).heading == "My checks"


def test_one_that_counts_back_is_refused_and_noted(world: World) -> None:
    key, browser = enrolled(world), world.browser()
    key.used += 10
    assert signs_in(world, browser, key.given(challenge(browser, "sign-in"))).heading == "My checks"
    browser.press("Sign out")
    world.clock.pass_(seconds=1)
    key.used -= 5

    assert (
        "there may be a copy of it" in signs_in(world, browser, key.given(challenge(browser, "sign-in"))).text
    )
    with world.site.store.read() as reader:
        noted = [each.event for each in reader.entries_of_kind(events.SecurityNoted.kind)]
    said = [vars(each)["what"] for each in noted]
    assert said[-2:] == ["sign-in failed beside the secret", "a passkey counted back"]


WRONG: dict[str, Callable[[Key, World, Browser], str]] = {
    "another site's page": lambda key, _, browser: replace(key, origin="https://elsewhere.example").given(
        challenge(browser, "sign-in")
    ),
    "another port": lambda key, _, browser: replace(key, origin="https://localhost:444").given(
        challenge(browser, "sign-in")
    ),
    "another host": lambda key, _, browser: replace(key, host="elsewhere.example").given(
        challenge(browser, "sign-in")
    ),
    "another screen": lambda key, world, _: key.given(challenge(_opened(world), "sign-in")),
    "another act": lambda key, _, browser: key.given(challenge(browser, "enrol")),
    "nobody there": lambda key, _, browser: key.given(challenge(browser, "sign-in"), flags=0),
    "a challenge of its own": lambda key, _, __: key.given("A" * 75),
    "somebody else's": lambda _, __, browser: Key().given(challenge(browser, "sign-in")),
    "its own making": lambda key, _, browser: key.made(challenge(browser, "sign-in")),
    "no answer": lambda _, __, ___: "{}",
    "nothing that can be read": lambda _, __, ___: "[",
}


def _opened(world: World) -> Browser:
    other = world.browser()
    other.get("/sign-in")
    return other


@pytest.mark.parametrize("wrong", WRONG)
def test_nothing_else_counts(world: World, wrong: str) -> None:
    key, browser = enrolled(world), _opened(world)

    page = signs_in(world, browser, WRONG[wrong](key, world, browser))

    assert page.status == 422
    assert "This passkey is not yours, or it took too long." in page.text


def test_an_answer_that_took_too_long_does_not_count(world: World) -> None:
    key, browser = enrolled(world), _opened(world)
    answer = key.given(challenge(browser, "sign-in"))
    world.clock.pass_(seconds=timedelta(minutes=5).total_seconds() + 1)

    assert signs_in(world, browser, answer).status == 422


def test_a_signature_is_of_the_record_and_the_session_that_the_passkey_was_asked_for(world: World) -> None:
    pair = at_signing(world)
    key = Key()
    enrols(world, pair.first, key)
    world.publishes_policy(second_factor=ASKED)
    act = act_of(pair.page(pair.first, "/sign"))
    assert act.split() == ["sign", pair.check, pair.state.frozen_digest]

    for browser, other in (
        (pair.first, "sign-in"),
        (pair.first, act.replace(pair.check, "0" * 32)),
        (pair.first, f"{act[:-1]}{'0' if act[-1] != '0' else '1'}"),
        (pair.second, act),
    ):
        page = sign(pair, key.given(challenge(browser, other)))
        assert page.status == 422, other
        world.clock.pass_(seconds=61)
        pair.first.get("/here")
        pair.second.get("/here")
    assert pair.state.signatures == {}

    sign(pair, key.given(challenge(pair.first, act)))
    assert len(pair.state.signatures) == 1
    with world.site.store.read() as reader:
        (signed,) = [each.event for each in reader.entries_of_kind(events.Signed.kind)]
    assert vars(signed)["beside"] == "passkey"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"secret": "no such secret"}, "This is not your secret."),
        ({"passkey": "{}"}, "No passkey was made, or it took too long."),
    ],
)
def test_none_is_enrolled_without_the_own_secret_or_from_a_wrong_answer(
    world: World, given: dict[str, str], says: str
) -> None:
    browser = world.at(FIRST_NURSE)
    page = enrols(world, browser, Key(), **given)

    assert page.status == 422
    assert says in page.text
    assert "Nothing is enrolled." in browser.get("/authenticator").text


def test_where_a_code_counts_as_well_a_passkey_does_too(world: World) -> None:
    key = enrolled(world, "code-or-passkey")
    browser = _opened(world)

    assert signs_in(world, browser, key.given(challenge(browser, "sign-in"))).heading == "My checks"
