"""A demonstration site in a fresh folder: key, SQLite database, invented people, and a server on loopback."""

import json
import logging
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from werkzeug.serving import WSGIRequestHandler, make_server

from app.cli.installation import now
from app.config import Settings, load_settings, root
from app.keys import create_key_file, hash_secret, new_id
from app.people import Person, Role
from app.records.events import AccountChanged
from app.storage import migrate, open_store
from app.web import Parts, create_app
from app.workflow.installing import install_seed
from app.workflow.site import Site
from app.workflow.sweeping import sweep_once

SEED = root() / "seed_data"
SWEEP_EVERY_SECONDS = 1

_log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Demonstrator:
    """One invented person with the secret that the demonstration prints."""

    login: str
    printed_name: str
    roles: tuple[str, ...]
    unit: str
    secret: str


@dataclass(frozen=True, kw_only=True)
class Demonstration:
    """A running demonstration."""

    address: str
    site: Site
    people: tuple[Demonstrator, ...]

    def person(self, login: str) -> Demonstrator:
        """The invented person with this login."""
        return next(each for each in self.people if each.login == login)


class _Quiet(WSGIRequestHandler):
    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002  # werkzeug's signature
        """Write no line a request: an address names a check."""


@contextmanager
def demonstration(folder: Path, *, port: int) -> Iterator[Demonstration]:
    """Make a fresh site in an empty folder and serve it on loopback until the context ends."""
    settings = load_settings(
        {
            "DATABASE_URL": f"sqlite:///{folder}/demonstration.sqlite3",
            "COUNTERSIGN_KEY_FILE": str(folder / "application.key"),
            "COUNTERSIGN_MODE": "demo",
            "COUNTERSIGN_ZONE": json.loads((SEED / "policy.json").read_text(encoding="utf-8"))["zone"],
            "COUNTERSIGN_IDLE_MINUTES": "60",
        }
    )
    key = create_key_file(settings.key_file)
    migrate(settings.database_url)
    site = Site(store=open_store(settings.database_url), key=key)
    install_seed(site, now(), SEED)
    people = tuple(_add_person(site, each) for each in _seeded_people())
    server = make_server(
        "127.0.0.1", port, create_app(_parts(site, settings)), threaded=True, request_handler=_Quiet
    )
    ended = threading.Event()
    threads = [threading.Thread(target=server.serve_forever, daemon=True)]
    threads.append(threading.Thread(target=_sweep, args=(site, ended), daemon=True))
    for thread in threads:
        thread.start()
    try:
        yield Demonstration(address=f"http://127.0.0.1:{server.server_port}", site=site, people=people)
    finally:
        ended.set()
        server.shutdown()
        for thread in threads:
            thread.join()
        server.server_close()
        site.store.close()


def _parts(site: Site, settings: Settings) -> Parts:
    return Parts(
        site=site,
        settings=settings,
        clock=now,
        new_id=new_id,
        coin=lambda: secrets.randbelow(2),
        csrf_key=site.key.for_purpose("countersign forms 1"),
    )


def _seeded_people() -> tuple[Demonstrator, ...]:
    content = json.loads((SEED / "people.json").read_text(encoding="utf-8"))
    return tuple(
        Demonstrator(
            login=each["login"],
            printed_name=each["printed_name"],
            roles=tuple(each["roles"]),
            unit=each["unit"],
            secret=each["secret"],
        )
        for each in content["people"]
    )


def _add_person(site: Site, each: Demonstrator) -> Demonstrator:
    """Add an invented person whose secret is known: what no real installation can do."""
    person = Person(
        id=new_id(),
        login=each.login,
        staff_number=f"invented {each.login}",
        printed_name=each.printed_name,
        roles=frozenset(Role(role) for role in each.roles),
        unit=each.unit,
        secret_hash=hash_secret(each.secret),
        code_hash=None,
        code_expires_at=None,
        active=True,
    )
    with site.store.write() as tx:
        tx.add_person(person)
        tx.append(AccountChanged(person=person.id, what="made for a demonstration"), at=now())
    return each


def _sweep(site: Site, ended: threading.Event) -> None:
    """Sweep until the demonstration ends; a sweep that fails is tried again at the next turn."""
    holder = new_id()
    while not ended.wait(SWEEP_EVERY_SECONDS):
        try:
            sweep_once(site, now(), holder=holder)
        except Exception as error:  # noqa: BLE001  # the loop must outlive one bad sweep
            # The kind alone: a trace could hold values.
            _log.error("sweep failed: %s", type(error).__name__)
