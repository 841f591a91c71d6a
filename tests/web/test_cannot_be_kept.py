"""What a database refuses to keep is a plain 404 or 422, on every route, in every field, on both engines."""

import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from functools import cache
from urllib.parse import quote, urlencode

import pytest
from wtforms import Form

from app.records.fields import FIELDS
from app.web import forms
from app.web.access import access_of
from app.web.forms.checking import TextForm
from tests.support.browser import ORIGIN, Browser
from tests.support.world import World
from tests.web.test_security import PEOPLE, every_route

NUL = "a\0b"
BEYOND = 10**30
# Fields that no form class names.
BY_HAND = (
    "go",
    "touched",
    "why",
    "done",
    "verified",
    "then",
    "until",
    "who",
    "scan",
    "version",
    "shown",
    "source",
)


@cache
def every_field() -> list[str]:
    """Every name that a form of ours asks for."""
    names = set(BY_HAND)
    for module in pkgutil.iter_modules(forms.__path__):
        for each in vars(importlib.import_module(f"app.web.forms.{module.name}")).values():
            if isinstance(each, type) and issubclass(each, TextForm) and each is not TextForm:
                names |= _names_in(each)
    for fields in FIELDS.values():
        for field in fields:
            names |= {field.name, f"{field.name}_unit", f"{field.name}_none"}
    return sorted(names)


def _names_in(form: type[Form]) -> set[str]:
    return {name for name in dir(form) if hasattr(getattr(form, name), "field_class")}


def token_of(browser: Browser) -> str:
    browser.get("/keys")
    return browser.token()


def asks(browser: Browser, method: str, path: str, form: bytes = b"") -> int:
    answer = browser.client.open(
        path,
        method=method,
        base_url=ORIGIN,
        data=form,
        content_type="application/x-www-form-urlencoded" if form else None,
        headers={"Origin": ORIGIN} if method == "POST" else {},
    )
    return answer.status_code


def written(fields: Mapping[str, str | bytes]) -> bytes:
    """A form as a browser sends it: it is the same for every route."""
    return urlencode(fields).encode()


def test_every_form_is_walked() -> None:
    fields = every_field()
    assert {"login", "secret", "staff_number", "demand_dose", "bed", "first", "last"} <= set(fields)
    assert len(fields) > 80


@pytest.mark.parametrize("login", PEOPLE)
def test_an_address_that_no_database_could_hold_leads_nowhere(world_on_both: World, login: str) -> None:
    _, _, check = world_on_both.pair("t.osmund", "i.bexley")
    browser, asked = world_on_both.at(login), 0
    for each in every_route(world_on_both, check):
        for name in each.rule.arguments:
            for path in _spoilt(each.rule.rule, name):
                assert asks(browser, each.method, path) == 404, (each.method, path)
                asked += 1
    assert asked > 50


def _spoilt(rule: str, name: str) -> Iterator[str]:
    """The route with what cannot be kept in one place, and what could be anything in the others."""
    for part, spoilt in ((f"<{name}>", quote(NUL)), (f"<int:{name}>", str(BEYOND))):
        if part in rule:
            path = rule.replace(part, spoilt)
            while "<" in path:
                before, _, rest = path.partition("<")
                kind, _, after = rest.partition(">")
                path = before + ("1" if kind.startswith("int:") else "x") + after
            yield path


@pytest.mark.parametrize("query", ["then", "note", "unit", "first", "nothing"])
def test_a_question_that_cannot_be_kept_leads_nowhere(world_on_both: World, query: str) -> None:
    _, _, check = world_on_both.pair()
    browser = world_on_both.at("r.calloway")
    for each in every_route(world_on_both, check):
        if each.method == "GET":
            status = asks(browser, "GET", f"{each.path}?{query}={quote(NUL)}")
            assert status == 404, each.path


@pytest.mark.parametrize("login", PEOPLE)
def test_no_field_takes_what_cannot_be_kept(world_on_both: World, login: str) -> None:
    _, _, check = world_on_both.pair("n.ferrow", "t.osmund") if login != "n.ferrow" else world_on_both.pair()
    browser, walked = world_on_both.at(login), 0
    token = {"csrf_token": token_of(browser)}
    spoilt = (written(dict.fromkeys(every_field(), NUL) | token), written({"na\0me": "x"} | token))
    for each in every_route(world_on_both, check):
        if each.method != "POST":
            continue
        for form in spoilt:
            status = asks(browser, "POST", each.path, form)
            assert status in (401, 403, 404, 422) or _turned_away(
                world_on_both, each.rule.endpoint, status
            ), each.path
            walked += status == 422
    assert walked > 10


def _turned_away(world: World, endpoint: str, status: int) -> bool:
    """Sent to sign in, or to be seen first: nothing of the form was looked at."""
    return status == 303 and not access_of(world.app, endpoint).public


ODD = {
    "a number beyond every column": str(BEYOND),
    "below every column": f"-{BEYOND}",
    "no character": "\uffff",
    "the last one": "\U0010ffff",
    "half a pair": b"\xed\xa0\x80",
    "no UTF-8": b"\xff\xfe",
    "a control": "\x07\x1b[2J",
    "a line": "a\r\nb",
    "an override": "\N{RIGHT-TO-LEFT OVERRIDE}x",
    "blank": " ",
}


@pytest.mark.parametrize("odd", ODD.values(), ids=ODD.keys())
def test_no_field_fails_whatever_stands_in_it(world_on_both: World, odd: str | bytes) -> None:
    _, second, check = world_on_both.pair()
    for browser in (second, world_on_both.at("r.calloway"), world_on_both.at("a.moreau")):
        everywhere = dict.fromkeys(every_field(), odd)
        form = written({**everywhere, "csrf_token": token_of(browser)})
        for each in every_route(world_on_both, check):
            if each.method == "POST" and each.rule.endpoint not in ENDING:
                assert asks(browser, "POST", each.path, form) < 500, each.path


# They end the session with which the walk goes on.
ENDING = {
    "signing_in.sign_out_now",
    "unlocking.lock",
    "reading.keep_typing_and_sign_out",
    "reading.keep_typing_and_lock",
}
