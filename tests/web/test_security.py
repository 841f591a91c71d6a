"""What holds on every route: declared access, headers, nothing forged, planted or oversized gets in."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import parse_qs, urlsplit

import pytest
from flask import Blueprint
from werkzeug.routing import Rule

from app.people import Role, may
from app.web.access import UndeclaredAccess, access_of
from app.web.asking import EXTENSION
from app.web.factory import LARGEST_REQUEST, create_app
from app.web.views import BLUEPRINTS
from tests.support.browser import ORIGIN, Browser
from tests.support.html import parse_html
from tests.support.world import UNIT, World

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=()",
    "Strict-Transport-Security": "max-age=31536000; includeSubDomains",
}
# OWASP ASVS 5.0.0, 3.4.3: at the least object-src and base-uri none; here nothing at all that is not our own.
POLICY = {
    "default-src 'none'",
    "style-src 'self'",
    "script-src 'self'",
    "img-src 'self'",
    "font-src 'self'",
    "connect-src 'self'",
    "form-action 'self'",
    "frame-ancestors 'none'",
    "base-uri 'none'",
    "object-src 'none'",
    "worker-src 'none'",
}
PEOPLE = ("n.ferrow", "r.calloway", "p.varga", "q.lindqvist", "a.moreau")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One way to ask one route."""

    rule: Rule
    method: str
    path: str


def every_route(world: World, check: str) -> Iterator[Asked]:
    """Every route with every method it takes, filled with ids of this world."""
    known = {"check": check, "source": "label", "person": world.person("n.ferrow").id}
    for rule in world.app.url_map.iter_rules():
        if rule.endpoint == "static":
            continue
        values = {name: known.get(name, "0" * 32) for name in rule.arguments}
        with world.app.test_request_context(base_url=ORIGIN):
            adapter = world.app.create_url_adapter(None) or world.app.url_map.bind("localhost")
            path = adapter.build(rule.endpoint, values)
        for method in sorted((rule.methods or set()) & {"GET", "POST"}):
            yield Asked(rule=rule, method=method, path=path)


def ask(browser: Browser, asked: Asked, **headers: str) -> int:
    """Ask once, without following; the status."""
    answer = browser.client.open(
        asked.path,
        method=asked.method,
        base_url=ORIGIN,
        headers={"Origin": ORIGIN, **headers} if asked.method == "POST" else headers,
    )
    return answer.status_code


def test_every_answer_carries_the_headers(world: World) -> None:
    nurse, _, check = world.pair()

    for asked in every_route(world, check):
        answer = nurse.client.open(asked.path, method=asked.method, base_url=ORIGIN)
        for name, text in HEADERS.items():
            assert answer.headers[name] == text, (asked.path, name)
        assert set(answer.headers["Content-Security-Policy"].split("; ")) == POLICY, asked.path
        assert answer.headers["Cache-Control"] == "no-store", asked.path
        assert not {"ETag", "Last-Modified"} & set(answer.headers.keys()), asked.path


@pytest.mark.parametrize(
    ("path", "status"),
    [("/nothing", 404), ("/sign-out", 405), ("/check/none", 404), ("/accounts", 403)],
)
def test_refusals_carry_the_headers_too(world: World, path: str, status: int) -> None:
    answer = world.at("n.ferrow").client.get(path, base_url=ORIGIN)

    assert answer.status_code == status
    assert set(answer.headers["Content-Security-Policy"].split("; ")) == POLICY
    assert answer.headers["Cache-Control"] == "no-store"
    parse_html(answer.get_data())


def test_files_of_the_site_are_kept_by_the_browser_and_pages_never(world: World) -> None:
    answer = world.browser().client.get("/static/countersign.css", base_url=ORIGIN)

    assert answer.get_data()
    assert "max-age" in answer.headers["Cache-Control"]
    answer.close()


def test_a_view_without_access_stops_the_start(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    forgotten = Blueprint("forgotten", __name__)
    forgotten.get("/forgotten")(lambda: "seen")
    monkeypatch.setattr("app.web.factory.BLUEPRINTS", (*BLUEPRINTS, forgotten))

    with pytest.raises(UndeclaredAccess, match="forgotten"):
        create_app(world.app.extensions[EXTENSION])


def test_nobody_signed_in_reaches_nothing_but_the_public_pages(world: World) -> None:
    _, _, check = world.pair()
    public = set()

    for asked in every_route(world, check):
        answer = world.browser().client.open(asked.path, method=asked.method, base_url=ORIGIN)
        if access_of(world.app, asked.rule.endpoint).public:
            public.add(asked.rule.endpoint)
            continue
        assert answer.status_code == 303, asked.path
        # What was asked for is all that the answer knows: for a check that is none it is the same.
        location = urlsplit(answer.headers["Location"])
        assert location.path == "/sign-in"
        assert set(parse_qs(location.query)) <= {"then"}
        other = world.browser().client.open(
            asked.path.replace(check, "0" * 32), method=asked.method, base_url=ORIGIN
        )
        assert other.get_data(as_text=True) == answer.get_data(as_text=True).replace(check, "0" * 32)

    assert public == {
        "signing_in.sign_in_page",
        "signing_in.sign_in_now",
        "signing_in.first_secret_page",
        "signing_in.first_secret_now",
        "signing_in.handed_over_page",
        "unlocking.page",
        "unlocking.unlock",
        "watching.health",
        "watching.ready",
        "authenticators.challenge",
        # Who is no one of the check's two is told to reload, and finds out there what for.
        "comparison.since",
        # The same of an export that is made.
        "exporting.since",
        "ward_now.since",
        # Another system, with a token of its own.
        "orders.receive",
    }


@pytest.mark.parametrize("login", PEOPLE)
def test_a_role_that_does_not_permit_it_is_refused(world: World, login: str) -> None:
    _, _, check = world.pair("t.osmund", "i.bexley")
    browser = world.at(login)
    roles = world.person(login).roles
    refused = 0

    for asked in every_route(world, check):
        needs = access_of(world.app, asked.rule.endpoint).needs
        if not needs or any(may(roles, each) for each in needs):
            continue
        assert ask(browser, asked) == 403, (login, asked.path)
        refused += 1

    assert refused > 0


def test_a_right_taken_away_is_gone_at_the_next_request(world: World) -> None:
    nurse, admin = world.at("n.ferrow"), world.at("a.moreau")
    assert nurse.get("/open").status == 200
    admin.get(f"/accounts/{world.person('n.ferrow').id}")

    admin.press("Change the roles", roles=[Role.QUALITY.value])

    assert nurse.get("/open").status == 403


def test_a_deactivated_account_is_out_at_once(world: World) -> None:
    nurse, admin = world.at("n.ferrow"), world.at("a.moreau")
    admin.get(f"/accounts/{world.person('n.ferrow').id}")

    admin.press("Deactivate")

    assert nurse.get("/").heading == "Sign in"
    assert world.sign_in(world.browser(), "n.ferrow").status == 422


def test_no_form_is_taken_without_its_token(world: World) -> None:
    browser, _, check = world.pair()

    for asked in every_route(world, check):
        if asked.method != "POST":
            continue
        access = access_of(world.app, asked.rule.endpoint)
        allowed = access.needs
        expected = 400 if not allowed or any(may({Role.NURSE}, each) for each in allowed) else 403
        # Another system has no form: what counts is its own token, and a person has none.
        expected = 401 if access.by_token else expected
        assert ask(browser, asked) == expected, asked.path


@pytest.mark.parametrize(
    "origin", ["https://elsewhere.example", "http://localhost", "https://localhost.elsewhere.example"]
)
def test_a_form_from_another_origin_is_refused_even_with_the_token(world: World, origin: str) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/danger")
    token = browser.token()

    for asked in every_route(world, check):
        if asked.method == "POST":
            answer = browser.client.post(
                asked.path, base_url=ORIGIN, data={"csrf_token": token}, headers={"Origin": origin}
            )
            by_token = access_of(world.app, asked.rule.endpoint).by_token
            assert answer.status_code == (401 if by_token else 403), asked.path

    assert "reading 1" in browser.get(f"/check/{check}/read").text


def test_a_token_of_another_session_is_refused(world: World) -> None:
    one, other, check = world.pair()
    one.get(f"/check/{check}/danger")
    stolen = one.token()

    page = other.post(f"/check/{check}/danger", [("csrf_token", stolen), ("why", "forged")])

    assert page.status == 400


def test_a_token_given_twice_is_refused(world: World) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/danger")
    token = browser.token()

    page = browser.post(f"/check/{check}/danger", [("csrf_token", token), ("csrf_token", token)])

    assert page.status == 400


def test_signing_in_itself_cannot_be_forged(world: World) -> None:
    browser = world.browser()
    browser.get("/sign-in")

    fields = [("login", "n.ferrow"), ("secret", world.secrets["n.ferrow"]), ("unit", UNIT)]

    assert browser.post("/sign-in", fields).status == 400


def test_a_form_whose_origin_the_browser_hides_needs_only_its_token(world: World) -> None:
    browser = world.browser()
    browser.get("/sign-in")

    answer = browser.client.post(
        "/sign-in",
        base_url=ORIGIN,
        data={
            "csrf_token": browser.token(),
            "login": "n.ferrow",
            "secret": world.secrets["n.ferrow"],
            "unit": UNIT,
        },
        headers={"Origin": "null"},
    )

    assert answer.status_code == 303


def test_a_field_that_the_form_does_not_have_changes_nothing(world: World) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/read/wristband")
    form, _ = browser.page.form_with("Keep, and")

    page = browser.post(
        form.action,
        [
            *(each for each in form.held if each[0] != "identifier"),
            ("identifier", "DM-1"),
            ("demand_dose", "9"),
            ("demand_dose_unit", "mg"),
            ("slot", "2"),
            ("person", "someone"),
            ("go", "next"),
        ],
    )
    assert page.status == 200

    review = browser.get(f"/check/{check}/read")
    assert "9 mg" not in review.text
    assert "DM-1" in review.text


def test_an_oversized_request_is_refused_before_it_is_read(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/open")

    page = browser.post("/open", [("csrf_token", browser.token()), ("bed", "x" * LARGEST_REQUEST)])

    assert page.status == 413
    assert "too much text" in page.text


def test_a_host_that_is_not_ours_is_refused(world: World) -> None:
    answer = world.browser().client.get("/sign-in", base_url="https://elsewhere.example")

    assert answer.status_code == 400
    assert "elsewhere" not in answer.get_data(as_text=True)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE"])
def test_methods_that_nothing_uses_are_refused_everywhere(world: World, method: str) -> None:
    browser, _, check = world.pair()

    for asked in every_route(world, check):
        assert browser.client.open(asked.path, method=method, base_url=ORIGIN).status_code == 405, asked.path


def test_cookies_are_for_this_host_alone_and_out_of_reach_of_scripts(world: World) -> None:
    browser = world.browser()
    first = browser.client.get("/sign-in", base_url=ORIGIN)
    browser.get("/sign-in")
    second = browser.client.post(
        "/sign-in",
        base_url=ORIGIN,
        data={
            "csrf_token": browser.token(),
            "login": "n.ferrow",
            "secret": world.secrets["n.ferrow"],
            "unit": UNIT,
        },
    )

    set_cookies = [*first.headers.getlist("Set-Cookie"), *second.headers.getlist("Set-Cookie")]

    assert [each.split("=")[0] for each in set_cookies] == [
        "__Host-countersign-device",
        "__Host-countersign-session",
        "__Host-countersign-unit",
    ]
    for each in set_cookies:
        attributes = {part.strip().lower() for part in each.split(";")[1:]}
        # What names a screen comes along with a link from elsewhere: without it a second one would be given.
        is_device = each.startswith("__Host-countersign-device")
        site = "samesite=lax" if is_device else "samesite=strict"
        assert {"secure", "httponly", site, "path=/"} <= attributes
        assert not any(part.startswith("domain") for part in attributes)


def test_the_session_token_stands_in_no_page_and_no_address(world: World) -> None:
    browser, _, check = world.pair()
    kept = browser.client.get_cookie(world.settings.session_cookie, domain="localhost")
    assert kept is not None

    for asked in every_route(world, check):
        if asked.method == "GET" and not access_of(world.app, asked.rule.endpoint).public:
            assert kept.value.encode() not in browser.client.get(asked.path, base_url=ORIGIN).get_data()


def test_a_failure_says_nothing_of_itself(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_arguments: object, **_named: object) -> None:
        message = "the canary value 7.3719"
        raise RuntimeError(message)

    browser = world.at("n.ferrow")
    monkeypatch.setattr("app.web.views.lists.unit_list", fail)

    page = browser.get("/")

    assert page.status == 500
    assert "Something failed" in page.text
    assert "7.3719" not in page.body


def test_a_get_writes_nothing_but_the_look_and_the_session(world: World) -> None:
    browser, _, check = world.pair()
    with world.site.store.read() as reader:
        before = len(reader.entries(check))

    for asked in every_route(world, check):
        if asked.method == "GET":
            browser.client.get(asked.path, base_url=ORIGIN)

    with world.site.store.read() as reader:
        assert len(reader.entries(check)) == before
