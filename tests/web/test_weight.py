"""What comes over the wire for a page when a browser has nothing of it yet: it and all that it asks for."""

import gzip
import re
from collections.abc import Callable
from http import HTTPStatus

import pytest
from flask import Response
from flask.testing import FlaskClient
from werkzeug.test import TestResponse
from werkzeug.wsgi import FileWrapper

from app.config import root
from app.web.packing import pack
from tests.factories.answers import answers
from tests.story.pages import Pair, at_steps, compared, joined, started
from tests.support.browser import ORIGIN
from tests.support.world import World

MOST = 60_000
OUR_FONTS = {f"fonts/hyperlegible-{weight}.woff2" for weight in ("regular", "bold")}
# The status line, and the headers that the server itself adds: date, its name, whether it goes on.
_SERVER_ADDS = 130


def fetched(client: FlaskClient, path: str) -> TestResponse:
    """One answer, as a browser asks for it."""
    answer = client.get(path, base_url=ORIGIN, headers={"Accept-Encoding": "gzip, deflate, br"})
    assert answer.status_code == 200, path
    return answer


def asked_for(page: str) -> set[str]:
    """The files that a page names, and those that every stylesheet of ours names."""
    files = set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page))
    return files | {f"/static/fonts/hyperlegible-{weight}.woff2" for weight in ("regular", "bold")}


def weight(answer: TestResponse) -> int:
    """The bytes of an answer, with its headers."""
    body = answer.get_data()
    answer.close()
    return _SERVER_ADDS + len(str(answer.headers).encode()) + len(body)


def weights(client: FlaskClient, path: str) -> dict[str, int]:
    """The page and each file that it asks for."""
    plain = client.get(path, base_url=ORIGIN).get_data(as_text=True)
    return {each: weight(fetched(client, each)) for each in {path, *asked_for(plain)}}


def re_checking(world: World) -> Pair:
    """What runs is read again."""
    pair = started(world)
    pair.re_checks()
    return pair


@pytest.mark.parametrize("begin", [joined, re_checking])
def test_a_page_that_is_read_from_stays_light(world: World, begin: Callable[[World], Pair]) -> None:
    pair, heaviest = begin(world), 0

    for source, _ in pair.state.kind.reads:
        each = weights(pair.first.client, f"/check/{pair.check}/read/{source}")
        assert len(each) > 8
        assert sum(each.values()) < MOST, (source, each)
        heaviest = max(heaviest, sum(each.values()))

    print(f"the heaviest page to read from: {heaviest:,} bytes of at most {MOST:,}")


# What leads a browser to fetch something, in a page or in a style.
_FETCHES = re.compile(r"""(?:\b(?:src|srcset|href|action)=|url\(|@import )["']?([^"')\s>]+)""")


def from_elsewhere(text: str) -> list[str]:
    """What a page or a style asks for that is not ours."""
    return [
        each for each in _FETCHES.findall(text) if not each.startswith(("/", "#")) or each.startswith("//")
    ]


def test_nothing_is_fetched_from_elsewhere(world: World) -> None:
    pair = joined(world)
    page = pair.first.get(f"/check/{pair.check}/read/label").body

    assert len(_FETCHES.findall(page)) > 10
    assert from_elsewhere(page) == []
    for sheet in (root() / "static").glob("*.css"):
        assert set(from_elsewhere(sheet.read_text(encoding="utf-8"))) <= OUR_FONTS
    hostile = (
        '<img src="https://elsewhere.example/a"><link href="//elsewhere.example/b"><style>@import "http://c"'
    )
    assert len(from_elsewhere(hostile)) == 3


_DIFFERING = answers(device={"demand_dose": "2 mg"})


@pytest.mark.parametrize(
    ("begin", "tail"),
    [
        (lambda world: compared(world, _DIFFERING, _DIFFERING), ""),
        (at_steps, "/steps"),
        (started, "/record"),
    ],
)
def test_so_do_the_pages_of_what_follows(world: World, begin: Callable[[World], Pair], tail: str) -> None:
    pair = begin(world)

    assert sum(weights(pair.first.client, f"/check/{pair.check}{tail}").values()) < MOST


@pytest.mark.parametrize("path", ["/static/countersign.css", "/static/keypad.js", "/"])
def test_a_packed_page_is_the_same_page(world: World, path: str) -> None:
    client = world.at("n.ferrow").client
    plain = client.get(path, base_url=ORIGIN)
    packed = fetched(client, path)

    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert plain.headers["Vary"] == packed.headers["Vary"] == "Accept-Encoding"
    assert len(packed.get_data()) < len(plain.get_data())
    assert gzip.decompress(packed.get_data()) == plain.get_data()
    plain.close()
    packed.close()


@pytest.mark.parametrize(
    ("site", "encoding"),
    [("none", "gzip"), ("same-origin", "gzip"), ("same-site", None), ("cross-site", None)],
)
def test_nobody_elsewhere_learns_from_the_size_of_a_page(
    world: World, site: str, encoding: str | None
) -> None:
    # Attacks of the kind of BREACH (Prado, Harris and Gluck, 2013): words of theirs beside the form's token.
    path = "/join?code=theirs"
    headers = {"Accept-Encoding": "gzip", "Sec-Fetch-Site": site}
    answer = world.at("n.ferrow").client.get(path, base_url=ORIGIN, headers=headers)

    assert answer.headers.get("Content-Encoding") == encoding


def test_what_is_packed_already_or_hardly_there_is_left_alone(world: World) -> None:
    client = world.browser().client
    for path in ("/static/icon.svg", "/static/fonts/hyperlegible-bold.woff2"):
        answer = fetched(client, path)
        assert "Content-Encoding" not in answer.headers
        answer.close()


def test_a_browser_that_has_the_file_is_told_so(world: World) -> None:
    client = world.browser().client
    first = fetched(client, "/static/countersign.css")
    packed = {"Accept-Encoding": "gzip", "If-None-Match": first.headers["ETag"]}
    again = client.get("/static/countersign.css", base_url=ORIGIN, headers=packed)

    assert first.headers["ETag"].startswith("W/")
    assert (again.status_code, again.get_data()) == (304, b"")
    first.close()
    again.close()


@pytest.mark.parametrize(
    ("name", "is_document"),
    [
        ("countersign.css", False),
        ("countersign.js", False),
        ("fonts/hyperlegible-bold.woff2", False),
        # A browser shows a drawing by itself, and a text.
        ("icon.svg", True),
        ("fonts/LICENSE", True),
        ("nothing.css", True),
    ],
)
def test_a_file_carries_the_headers_that_mean_something_for_it(
    world: World, name: str, *, is_document: bool
) -> None:
    answer = world.browser().client.get(f"/static/{name}", base_url=ORIGIN)

    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert ("Content-Security-Policy" in answer.headers) is is_document
    assert ("X-Frame-Options" in answer.headers) is is_document
    # A page asks for a dozen files: what says nothing of them weighs as much as one of them.
    assert "Content-Disposition" not in answer.headers
    assert ("ETag" in answer.headers) is (answer.status_code == HTTPStatus.OK)
    assert "Last-Modified" not in answer.headers
    answer.close()


@pytest.mark.parametrize("status", [HTTPStatus.OK, HTTPStatus.NOT_MODIFIED])
def test_a_file_that_is_packed_or_not_sent_is_let_go_at_once(world: World, status: HTTPStatus) -> None:
    """A browser that hangs up meanwhile leaves it open otherwise."""
    path = root() / "static" / "scan.js"
    with world.app.test_request_context("/", headers={"Accept-Encoding": "gzip"}), path.open("rb") as file:
        answer = Response(
            FileWrapper(file), status=status, mimetype="text/javascript", direct_passthrough=True
        )
        packed = pack(answer)

        assert file.closed
        assert ("Content-Encoding" in packed.headers) is (status == HTTPStatus.OK)
