"""A furnished site behind the web: units, rules, invented people, a clock that a test moves, browsers.

`world.at(login)` is a signed-in browser; `read_all` and `hand_in` write a whole reading.
"""

import json
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask

from app.config import Settings, load_settings, root
from app.keys import ApplicationKey
from app.people import Person
from app.records.fields import FIELDS
from app.records.reading import Answers
from app.records.rules import POLICY
from app.records.sources import NONE, Form, Source
from app.records.state import Phase
from app.site.installation import Site
from app.storage import Store
from app.web import Parts
from app.workflow.enrolling import enrol
from tests.factories.enrolled import QUICK, newcomer
from tests.factories.exports import exports_folder
from tests.factories.seed import install_seed
from tests.factories.site_keys import site_keys
from tests.story.stages import Stages
from tests.support.applications import application
from tests.support.browser import Browser, Page
from tests.support.policies import ALSO_READ, publish_document

START = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
SEED = root() / "seed_data"
KEY = ApplicationKey(content=bytes(range(32)))
UNIT = "ward-4-east"
IDLE, ABSOLUTE = timedelta(minutes=5), timedelta(hours=12)


@dataclass(kw_only=True)
class Clock:
    """The time, which only a test moves."""

    now: datetime = START

    def __call__(self) -> datetime:
        return self.now

    def pass_(self, **span: float) -> None:
        """Let some time pass."""
        self.now += timedelta(**span)


@dataclass(kw_only=True)
class World:
    """One installation and everybody in it."""

    site: Site
    clock: Clock
    app: Flask
    secrets: Mapping[str, str]
    settings: Settings
    # Its file, and the stages that many tests begin at; a world in which every id counts takes no copies.
    database: Path | None = None
    stages: Stages | None = None
    ids: Iterator[str] = field(default_factory=lambda: iter(secrets.token_hex(16) for _ in range(10**6)))

    @property
    def untouched(self) -> bool:
        """Whether nobody has signed in yet."""
        with self.site.store.read() as reader:
            return next(iter(reader.rows("session")), None) is None

    def publishes_policy(self, **changes: object) -> "World":
        """The site's policy is the seeded one but for this, from now on."""
        return self.publishes(POLICY, **changes)

    def publishes(self, what: str, **changes: object) -> "World":
        """The same of any document."""
        publish_document(self.site, self.clock.now, what, changes)
        self.clock.pass_(seconds=1)
        return self

    def asks_for_more(self) -> "World":
        """The site's policy asks for whatever a policy may ask for."""
        return self.publishes_policy(also_read=list(ALSO_READ))

    def browser(self) -> Browser:
        """A browser on a device of its own, with nobody signed in."""
        return Browser(app=self.app)

    def sign_in(self, browser: Browser, login: str, unit: str = UNIT, pin: str = "") -> Page:
        """Sign in at a browser."""
        browser.get("/sign-in")
        browser.credential = (login, self.secrets[login])
        return browser.press("Sign in", login=login, secret=self.secrets[login], unit=unit, pin=pin)

    def at(self, login: str, unit: str = UNIT) -> Browser:
        """A browser at which this person is signed in."""
        browser = self.browser()
        page = self.sign_in(browser, login, unit)
        assert page.path == "/", page.text
        return browser

    def person(self, login: str) -> Person:
        """The account."""
        with self.site.store.read() as reader:
            found = reader.find_person_by_login(login)
        assert found is not None
        return found

    def open_check(self, browser: Browser, bed: str = "12") -> str:
        """Open a check; its id."""
        browser.get("/open")
        browser.press("Open the check", unit=UNIT, bed=bed)
        return str(browser.page.links()["Begin my reading"]).split("/")[2]

    def join(self, browser: Browser, check: str) -> None:
        """Join a check as the second."""
        browser.get(f"/check/{check}/join")
        browser.press("Join and read alone")

    def pair(self, first: str = "n.ferrow", second: str = "t.osmund") -> tuple[Browser, Browser, str]:
        """Two browsers of two people who have joined one check."""
        from tests.story.pages import pair_of

        pair = pair_of(self, logins=(first, second)).at_stage(Phase.READING)
        return pair.first, pair.second, pair.check


def typed(source: Source, answers: Mapping[str, str]) -> dict[str, str]:
    """What a person types and ticks to give these answers of one source."""
    given: dict[str, str] = {}
    for each in FIELDS[source]:
        answer = answers.get(each.name, "")
        if not answer:
            continue
        if answer == NONE and each.may_be_none:
            given[f"{each.name}_none"] = "none"
        elif each.form is Form.QUANTITY:
            number, _, unit = answer.partition(" ")
            given[each.name] = number
            given[f"{each.name}_unit"] = unit
        else:
            given[each.name] = answer
    return given


def read_source(browser: Browser, answers: Mapping[str, str], button: str = "Keep, and") -> Page:
    """Write one source's answers into the page that is open, leaving out what it does not ask for."""
    source = Source(browser.page.path.rsplit("/", 1)[1])
    form, _ = browser.page.form_with(button)
    wanted = {name: text for name, text in typed(source, answers).items() if name in form.names}
    return browser.press(button, **wanted)


def read_all(browser: Browser, check: str, answers: Answers) -> Page:
    """Read every source that is asked, up to the look over one's own reading."""
    page = browser.get(f"/check/{check}/read")
    while "/read/" in page.path:
        page = read_source(browser, answers.get(page.path.rsplit("/", 1)[1], {}))
        assert page.status == 200, page.text
    return page


def hand_in(browser: Browser, check: str, answers: Answers, *, over: bool = False) -> Page:
    """Read every source and hand in, or hand in and hand over the device."""
    read_all(browser, check, answers)
    form, _ = browser.page.form_with("Hand in")
    go = "hand-over" if over else "stay"
    return browser.post(form.action, [*form.held, ("go", go)])


def make_settings(*, demo: bool = False) -> Settings:
    """The settings of the installation under test."""
    return load_settings(
        {
            "DATABASE_URL": "sqlite://",
            "COUNTERSIGN_KEY_FILE": "application.key",
            "COUNTERSIGN_TRUSTED_HOSTS": "localhost",
            "COUNTERSIGN_MODE": "demo" if demo else "production",
            "COUNTERSIGN_IDLE_MINUTES": str(IDLE // timedelta(minutes=1)),
        }
    )


def furnish(site: Site) -> None:
    """Publish the seeded rules and enrol the seeded people, whose ids are their logins written backwards."""
    install_seed(site, START - timedelta(days=1))
    names = ("login", "staff_number", "printed_name", "roles", "unit", "secret")
    people = [
        newcomer(id=f"{each['login'][::-1]:0<32}", **{name: each[name] for name in names})
        for each in seeded_people()
    ]
    enrol(site, START - timedelta(days=1), people, tools=QUICK)


def seeded_people() -> list[dict[str, str]]:
    """The invented people."""
    content = json.loads((SEED / "people.json").read_text(encoding="utf-8"))
    people: list[dict[str, str]] = content["people"]
    return people


def make_world(store: Store, clock: Clock | None = None, *, demo: bool = False) -> World:
    """The application over a furnished store."""
    clock = clock or Clock()
    site = Site(store=store, key=KEY, site_keys=site_keys(), exports=exports_folder())
    settings = make_settings(demo=demo)
    world = World(
        site=site,
        clock=clock,
        app=Flask("placeholder"),
        secrets={each["login"]: each["secret"] for each in seeded_people()},
        settings=settings,
    )
    world.app = application(
        Parts(
            site=site,
            settings=settings,
            clock=clock,
            new_id=lambda: next(world.ids),
            csrf_key=b"k" * 32,
        )
    )
    return world
