"""A demonstration site in a fresh folder: keys, SQLite database, invented people, a server on loopback."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from werkzeug.serving import WSGIRequestHandler, make_server

from app.cli.installation import make_site_keys, now
from app.config import Settings, load_settings, root
from app.keys import create_key_file, new_id
from app.people import Person, Role
from app.site.installation import Site
from app.storage import migrate, open_store
from app.web import Parts, create_app
from app.web.sweeper import start_sweeper
from app.workflow.enrolling import Newcomer, enrol
from app.workflow.publishing import InForce, install_rules
from app.workflow.rule_files import RuleFiles, read_rules

SEED = root() / "seed_data"
# Seconds after which the server looks up whether it is to end.
_LOOKS_UP = 0.02


@dataclass(frozen=True, kw_only=True)
class Demonstrator:
    """One invented person with the secret that the demonstration prints."""

    login: str
    staff_number: str
    printed_name: str
    roles: tuple[str, ...]
    unit: str
    secret: str


@dataclass(kw_only=True)
class Clock:
    """The present, or as far behind it as what is played lies in the past."""

    behind: timedelta = timedelta(0)

    def __call__(self) -> datetime:
        """What time it is in the demonstration."""
        return now() - self.behind

    def stand_at(self, moment: datetime) -> None:
        """Let it be this moment now, and time go on from it."""
        self.behind = now() - moment


@dataclass(frozen=True, kw_only=True)
class Demonstration:
    """A running demonstration."""

    address: str
    site: Site
    clock: Clock
    people: tuple[Demonstrator, ...]

    def person(self, login: str) -> Demonstrator:
        """The invented person with this login."""
        return next(each for each in self.people if each.login == login)


class _Quiet(WSGIRequestHandler):
    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002  # werkzeug's signature
        """Write no line a request: an address names a check."""


@contextmanager
def demonstration(folder: Path, *, port: int, behind: timedelta = timedelta(0)) -> Iterator[Demonstration]:
    """Make a fresh site in an empty folder and serve it on loopback until the context ends.

    Where it is to begin in the middle of something, its clock begins `behind` the present.
    """
    clock = Clock(behind=behind)
    settings = load_settings(
        {
            "DATABASE_URL": f"sqlite:///{folder}/demonstration.sqlite3",
            "COUNTERSIGN_KEY_FILE": str(folder / "application.key"),
            "COUNTERSIGN_MODE": "demo",
            "COUNTERSIGN_IDLE_MINUTES": "60",
        }
    )
    key = create_key_file(settings.key_file)
    migrate(settings.database_url)
    site = Site(
        store=open_store(settings.database_url),
        key=key,
        site_keys=settings.site_keys,
        exports=settings.exports,
    )
    _publish_the_invented(site, clock())
    make_site_keys(site, clock())
    people = _seeded_people()
    enrol(site, clock(), [_newcomer(each) for each in people])
    server = make_server(
        "127.0.0.1", port, create_app(_parts(site, settings, clock)), threaded=True, request_handler=_Quiet
    )
    serving = threading.Thread(target=server.serve_forever, args=[_LOOKS_UP], daemon=True)
    serving.start()
    end_sweeping = start_sweeper(site, clock, new_id())
    try:
        address = f"http://127.0.0.1:{server.server_port}"
        yield Demonstration(address=address, site=site, clock=clock, people=people)
    finally:
        end_sweeping()
        server.shutdown()
        serving.join()
        server.server_close()
        site.store.close()


def _publish_the_invented(site: Site, at: datetime) -> None:
    files = read_rules(SEED)
    assert isinstance(files, RuleFiles)  # noqa: S101  # what comes with the program is right
    assert isinstance(install_rules(site, at, files, installation=new_id()), InForce)  # noqa: S101


def _parts(site: Site, settings: Settings, clock: Clock) -> Parts:
    return Parts(
        site=site,
        settings=settings,
        clock=clock,
        new_id=new_id,
        csrf_key=site.key.for_purpose("countersign forms 1"),
    )


def _seeded_people() -> tuple[Demonstrator, ...]:
    content = json.loads((SEED / "people.json").read_text(encoding="utf-8"))
    return tuple(
        Demonstrator(
            login=each["login"],
            staff_number=each["staff_number"],
            printed_name=each["printed_name"],
            roles=tuple(each["roles"]),
            unit=each["unit"],
            secret=each["secret"],
        )
        for each in content["people"]
    )


def _newcomer(each: Demonstrator) -> Newcomer:
    """An invented person whose secret is known: what no real installation can do."""
    person = Person(
        id=new_id(),
        login=each.login,
        staff_number=each.staff_number,
        printed_name=each.printed_name,
        roles=frozenset(Role(role) for role in each.roles),
        unit=each.unit,
        secret_hash=None,
        code_hash=None,
        code_expires_at=None,
        active=True,
    )
    return Newcomer(person=person, secret=each.secret)
