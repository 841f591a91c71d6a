"""What each answer on the path of a set-up takes beside an 8 kB page made from a template with one query.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_pages.py [SET-UPS [ANSWER]]`.
Two nurses walk whole set-ups through the pages, in one process; each request stands beside the plain page
asked for at the same moment. CPU time, median of the ratios, because absolute times on a shared machine mean
little; and how many statements the database was given, which is the same on every machine (held by
`test_statements.py`). Signing in and signing hash a secret, which is meant to take long. A profile of one
more set-up shows where the time of the dearest answer goes, or of the one that is named, such as
`GET reading.source_form device`. Exits with 1 when the aim is missed.
"""

import cProfile
import io
import pstats
import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from statistics import median
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from app.site.installation import Site
from app.storage import migrate, open_store
from tests.factories.site_keys import site_keys
from tests.support.checking import FIRST_NURSE
from tests.support.walking import NamingClient, statements, walk_set_up
from tests.support.world import KEY, furnish, make_world

AIM = 2.0
SET_UPS = 5
PLAIN_A_REQUEST = 3
_DEAREST_SHOWN = 25

# Some eight thousand characters: rows of four cells, as lists and ledgers are.
_PLAIN = """<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Plain</title></head><body>
<h1>{{ person.printed_name }}</h1><table>{% for row in rows %}<tr><th scope="row">{{ row.name }}</th>
<td class="words">{{ row.first }}</td><td class="words">{{ row.second }}</td><td>{{ row.at }}</td></tr>
{% endfor %}</table></body></html>"""
_ROWS = [{"name": f"Row {at}", "first": "Some words", "second": "and more", "at": at} for at in range(70)]


@dataclass(kw_only=True)
class Meter:
    """The ratios of each answer so far, the most statements it took, and what one does where it is named."""

    plain: FlaskClient
    ratios: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    statements: dict[str, int] = field(default_factory=dict)
    profiled: str = ""
    profile: cProfile.Profile = field(default_factory=cProfile.Profile)

    def plain_seconds(self) -> float:
        """The plain page now."""
        return seconds(lambda: [self.plain.get("/") for _ in range(PLAIN_A_REQUEST)]) / PLAIN_A_REQUEST


def seconds(work: Any) -> float:  # noqa: ANN401  # anything that can be called
    """CPU time of one run."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def metered(meter: Meter) -> type[FlaskClient]:
    """A client that times what it asks for."""

    class Metered(NamingClient):
        def open(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401  # the library's own signature
            name = self.name_of(*args, **kwargs)
            if name == meter.profiled:
                return meter.profile.runcall(super().open, *args, **kwargs)
            beside = meter.plain_seconds()
            with statements() as asked:
                begun = time.process_time()
                answer = super().open(*args, **kwargs)
                meter.ratios[name].append((time.process_time() - begun) / beside)
            meter.statements[name] = max(len(asked), meter.statements.get(name, 0))
            return answer

    return Metered


def plain_page(site: Site) -> FlaskClient:
    """The page that all others are measured by."""
    app = Flask("plain")
    template = app.jinja_env.from_string(_PLAIN)

    @app.get("/")
    def page() -> str:
        with site.store.read() as reader:
            person = reader.find_person_by_login(FIRST_NURSE)
        return template.render(person=person, rows=_ROWS)

    client = app.test_client()
    size = len(client.get("/").get_data())
    assert 7_500 < size < 8_500, size
    return client


def main() -> int:
    """Print the ratios, the dearest last, and where the time of one answer goes."""
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else SET_UPS
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        migrate(url)
        store = open_store(url)
        site = Site(store=store, key=KEY, site_keys=site_keys())
        furnish(site)
        world = make_world(store)
        meter = Meter(plain=plain_page(site))
        world.app.test_client_class = metered(meter)
        beds = map(str, count(1))
        # The first is not measured: templates are compiled, statements are prepared.
        walk_set_up(world, next(beds))
        meter.ratios.clear()
        for _ in range(wanted):
            walk_set_up(world, next(beds))
        dearest, worst = report(meter)
        meter.profiled = sys.argv[2] if len(sys.argv) > 2 else dearest
        walk_set_up(world, next(beds))
        print(f"\n{meter.profiled}, profiled:\n{told(meter.profile)}")
        store.close()
    return 0 if worst <= AIM else 1


def report(meter: Meter) -> tuple[str, float]:
    """Print the ratios; the dearest and its own."""
    typical = {name: median(ratios) for name, ratios in meter.ratios.items()}
    inorder = sorted(typical, key=lambda name: typical[name])
    print(f"the plain page: {1000 * meter.plain_seconds():.2f} ms of CPU")
    for name in inorder:
        asked, took = len(meter.ratios[name]), meter.statements[name]
        print(f"{name:<40}{typical[name]:>7.2f} times it  {took:>3} statements  ({asked} asked)")
    return inorder[-1], typical[inorder[-1]]


def told(profile: cProfile.Profile) -> str:
    """What of ours takes longest, with what it calls."""
    text = io.StringIO()
    stats = pstats.Stats(profile, stream=text).sort_stats("cumulative")
    stats.print_stats(r"/(app|templates)/", _DEAREST_SHOWN)
    return text.getvalue()


if __name__ == "__main__":
    sys.exit(main())
