"""Everybody else at a check of which one nurse knows more: every page asked for, every form sent."""

import io
import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

import pypdf
from werkzeug.routing import Rule

from app.records.kinds import KINDS
from app.records.sources import Source
from app.workflow.trends import About
from tests.story.pages import FIRST_NURSE, SECOND_NURSE, Pair
from tests.support.browser import ORIGIN, Browser
from tests.support.sampling import IS_WHOLE
from tests.support.world import World

OTHERS = ("r.calloway", "p.varga", "q.lindqvist", "a.moreau", "o.hale", "i.bexley")
NOBODY = "nobody"


@dataclass(frozen=True, kw_only=True)
class Heard:
    """One answer, with everything in it that a browser can tell apart."""

    who: str
    asked: str
    status: int
    headers: tuple[tuple[str, str], ...]
    body: bytes


@dataclass(kw_only=True)
class Scene:
    """One world at a stage: the first nurse knows what was read, the observers do not.

    `earlier` are checks of the same infusion that came before.
    """

    pair: Pair
    observers: dict[str, Browser]
    earlier: tuple[str, ...] = ()
    # Which of the others is asked first, where they are asked in turn.
    turn: int = 0

    @property
    def world(self) -> World:
        """The installation."""
        return self.pair.world

    def those_who_ask(self) -> tuple[str, ...]:
        """Everybody else; in the sample the second nurse and one more, who changes with every question."""
        if IS_WHOLE:
            return tuple(self.observers)
        others = [each for each in self.observers if each != SECOND_NURSE]
        self.turn += 1
        return SECOND_NURSE, others[self.turn % len(others)]


def heard(scene: Scene, who: str, asked: str, data: list[tuple[str, str]] | None = None) -> Heard:
    """Ask once (`GET /address` or `POST /address`), without following where the answer leads."""
    method, path = asked.split(" ")
    response = scene.observers[who].client.open(
        path,
        method=method,
        base_url=ORIGIN,
        data=urlencode(data or []),
        content_type="application/x-www-form-urlencoded",
        headers={"Origin": ORIGIN} if method == "POST" else {},
    )
    # A sheet with the log's root on it is packed to another size: there its words count, as on the page.
    is_packed = path == _SHEET and response.mimetype == "application/pdf"
    said = _words_of_pdf(response.get_data()) if is_packed else response.get_data()
    body = _SIGNED_OF_THE_LOG.sub(b"as long as this", said)
    left_out = _DATES | {"Content-Length"} if is_packed else _DATES
    response.close()
    return Heard(
        who=who,
        asked=asked,
        status=response.status_code,
        # Only files are dated, and by the machine's clock, which no test freezes.
        headers=tuple(sorted(each for each in response.headers.items() if each[0] not in left_out)),
        body=body,
    )


# Root and signature of the log as they are printed. Its entries hold salted commitments to readings, so these
# count as equal where they stand in the same place and are as long.
_SIGNED_OF_THE_LOG = re.compile(rb"(?<![0-9a-f])[0-9a-f]{8}(?: [0-9a-f]{8}){3}(?![0-9a-f])")
_DATES = frozenset({"Date", "Expires"})
_SHEET = "/shift-sheet/sheet.pdf"


def _words_of_pdf(content: bytes) -> bytes:
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    return " ".join(" ".join(each.extract_text() for each in pages).split()).encode()


def _parts_of_addresses(scene: Scene) -> dict[str, list[str]]:
    """What stands in the addresses that could have to do with the check, by the name of its place."""
    return {
        "check": [scene.pair.check, *scene.earlier],
        "source": [each.value for each in Source],
        # One is where a page that waits stands.
        "position": ["0", str(scene.pair.state.told_position), "1000000"],
        "note": ["1", "1000000"],
        "infusion": [scene.pair.state.check.infusion],
        "kind": [*KINDS, "no-such-kind"],
        "edition": ["1", "1000000"],
        "person": [scene.world.person(FIRST_NURSE).id],
        "filename": ["countersign.css"],
        # The keys of two worlds are drawn apart, so the name of a real one says nothing about a reading.
        "kid": ["nobodys-key"],
        "number": ["1"],
        "round": ["1"],
        "order": ["nobodys-order"],
        "export": ["nobodys-export"],
        "sample": ["nobodys-sample"],
        "subject": ["sources"],
        "moment": ["0"],
        # What the page of what is to be done now shows, to each who may look at it.
        "stamp": ["no-such-stamp", *_stamps_at(scene.observers)],
        "what": ["policy"],
        "version": ["policy-9"],
        "part": ["no-such-part"],
        "proposal": ["nobodys-proposal"],
        # What counts findings; the others count the same checks.
        "about": [About.FINDINGS.value, About.CODES.value, About.MISSED.value],
        "shift_session": [*_locked_at(scene.observers), "0" * 32],
    }


def paths_of(scene: Scene, rule: Rule, method: str, given: Mapping[str, list[str]]) -> list[str]:
    """Every address of a route with these parts."""
    names = sorted(rule.arguments)
    adapter = scene.world.app.url_map.bind("localhost", url_scheme="https")
    return [
        adapter.build(rule.endpoint, dict(zip(names, values, strict=True)), method=method)
        for values in itertools.product(*(given[name] for name in names))
    ]


def _stamps_at(observers: Mapping[str, Browser]) -> list[str]:
    """Where the pages of what is to be done now stand, each at its own observer."""
    shown = [each.get("/now/shown").body for who, each in observers.items() if who != NOBODY]
    stamps = [body.partition("/now/since/")[2].partition('"')[0] for body in shown]
    return sorted({each for each in stamps if each})


def _locked_at(observers: Mapping[str, Browser]) -> list[str]:
    """The shift sessions that six digits could open where nobody is signed in."""
    if NOBODY not in observers:
        return []
    addresses = observers[NOBODY].get("/handed-over").links().values()
    found = [each.split("/")[2] for each in addresses if each.startswith("/unlock/")]
    assert found
    return found


def lock_screen(world: World, login: str) -> Browser:
    """A screen that nobody is signed in at, and that somebody could unlock."""
    browser = world.browser()
    world.sign_in(browser, login, pin="739204")
    browser.press("Lock")
    return browser


def routes(scene: Scene, method: str) -> list[tuple[str, str]]:
    """Every address that takes a method, with its endpoint."""
    rules = sorted(scene.world.app.url_map.iter_rules(), key=lambda each: each.rule)
    given = _parts_of_addresses(scene)
    return [
        (rule.endpoint, path)
        for rule in rules
        if method in (rule.methods or ())
        for path in paths_of(scene, rule, method, given)
    ]


def _routes_to_ask(scene: Scene, method: str) -> list[tuple[str, str]]:
    """All of them; in the sample a third of those that name nothing of the check, another third each time."""
    found = routes(scene, method)
    of_check = (scene.pair.check, *scene.earlier, scene.pair.state.check.infusion)
    return [
        (endpoint, path)
        for number, (endpoint, path) in enumerate(found, start=scene.turn)
        if IS_WHOLE or number % 3 == 0 or any(each in path for each in of_check)
    ]


def looked_everywhere(scene: Scene, *, but: frozenset[str] = frozenset()) -> list[Heard]:
    """Every page, asked for by everybody else; `but` some, which are meant to tell."""
    return [
        heard(scene, who, f"GET {path}{query}")
        for endpoint, path in _routes_to_ask(scene, "GET")
        if endpoint not in but and endpoint not in _DRAWN
        for query in _QUERIES.get(endpoint, ("",))
        for who in scene.those_who_ask()
    ]


def looked_again(scene: Scene) -> list[Heard]:
    """After something was pressed: the lists, and every page of the check but its sources."""
    return [
        heard(scene, who, f"GET {path}")
        for endpoint, path in routes(scene, "GET")
        if endpoint in ("lists.my_checks", "ward_now.shown", "findings.page", "findings.to_classify")
        or path.startswith("/check/")
        if endpoint != "reading.source_form"
        for who in scene.those_who_ask()
    ]


# It is drawn from what the sheet's page says; `test_blindness_infusion` asks for it in both worlds.
# The sheets for downtime are drawn from the rules of a unit alone, which takes most of a second.
_DRAWN = frozenset({"shift_sheet.paper"} if IS_WHOLE else {"shift_sheet.paper", "downtime.forms"})
_QUERIES = {
    "stepping.page": ("", "?by=1"),
    "comparison.page": ("", "?by=1"),
    "findings.page": ("", "?severity=stop", "?code=device-differs&first=2031-05-01&review=not-reviewed"),
}

# These change what the others may see next, so each has a test of its own.
LATER = frozenset(
    {
        "reading.hand_in",
        "reading.keep_typing_and_lock",
        "reading.keep_typing_and_sign_out",
        "reading.say_danger",
        "settling.abandon",
        "settling.lead_on",
        "stopping.had_to_start",
        "signing_in.sign_out_now",
        "unlocking.lock",
    }
)
# Something in every field that a form of ours has; a route takes what is its own.
FIELDS = [
    ("by", "1"),
    ("login", "t.osmund"),
    ("secret", "wrong"),
    ("pin", "739205"),
    ("unit", "ward-4-east"),
    ("bed", "12"),
    ("code", "CDF001"),
    ("done", "syringe-seated"),
    ("volume", "2.2"),
    ("sedation", "0"),
    ("respiratory_rate", "16"),
    ("spo2", "98"),
    ("same", "yes"),
    ("digest", "0" * 64),
    ("finding", "0" * 16),
    ("outcome", "other"),
    ("why", "readings"),
    ("round", "1"),
    ("version", "0"),
    ("demand_dose", "0.3"),
    ("demand_dose_unit", "mg"),
    ("first", "2031-05-01"),
    ("last", "2031-05-03"),
    ("form", "jsonl"),
    ("second", "Tomas"),
    ("checked_at", "11:30"),
    ("device-demand_dose", "0.4 mg"),
    ("said", "same"),
    ("transcription", "1"),
]


def pressed_everything(scene: Scene, not_pressed: frozenset[str]) -> list[Heard]:
    """Every form, sent by everybody else."""
    tokens = {who: token_of(browser) for who, browser in scene.observers.items()}
    return [
        heard(scene, who, f"POST {path}", [("csrf_token", tokens[who]), *FIELDS])
        for endpoint, path in _routes_to_ask(scene, "POST")
        if endpoint not in LATER | not_pressed
        for who in scene.those_who_ask()
    ]


def looked_and_pressed(scene: Scene, not_pressed: frozenset[str] = frozenset()) -> list[Heard]:
    """Every page, every form, and once more what may have changed."""
    return [*looked_everywhere(scene), *pressed_everything(scene, not_pressed), *looked_again(scene)]


def token_of(browser: Browser) -> str:
    page = browser.get("/")
    return next((value for form in page.forms() for name, value in form.held if name == "csrf_token"), "")


def assert_same(one: list[Heard], other: list[Heard]) -> None:
    """Fails with the first answer that gives the first nurse's reading away."""
    assert len(one) == len(other)
    for here, there in zip(one, other, strict=True):
        assert here == there, f"{here.who} can tell the worlds apart by {here.asked}"
