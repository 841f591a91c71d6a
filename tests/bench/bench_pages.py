"""What each answer on the path of a set-up costs beside the least that such an answer could cost.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_pages.py [SET-UPS [ANSWER]]`.
Two nurses walk whole set-ups through the pages, in one process. Beside each answer stands, asked for in the
same way just before or just after it by turns, a plain one of the same bytes from a template, that reads one
row as often as the answer gave the database a statement and, where the answer wrote, adds one look that
lasts. CPU time, median of the ratios, because absolute times on a shared machine mean little; how many
statements, loads and transactions an answer takes is the same on every machine (held by
`test_statements.py`). Signing in and signing hash a secret, which is meant to take long, and so does the
other nurse's word on a shared screen. A profile of one more set-up shows where the time of the dearest answer
goes, or of the one that is named, such as `GET reading.source_form device`. Exits with 1 when the aim is
missed.
"""

import cProfile
import io
import pstats
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path
from statistics import median
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from app.records.kept import Access
from app.site.installation import Site
from app.storage import migrate, open_store
from tests.factories.site_keys import site_keys
from tests.story.pages import FIRST_NURSE
from tests.support.walking import Asked, NamingClient, asked, walk_set_up
from tests.support.world import KEY, START, UNIT, World, furnish, make_world

AIM = 1.6
SET_UPS = 10
_DEAREST_SHOWN = 40

# A hundred characters a row, of four cells: lists and ledgers are made of such.
_PLAIN = """<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Plain</title></head>
<body><table>
{% for row in rows %}<tr><th scope="row">{{ row.name }}</th>
<td class="words">{{ row.first }}</td><td class="words">{{ row.second }}</td><td>{{ row.at }}</td></tr>
{% endfor %}</table></body></html>"""
_ROWS = [{"name": "A row", "first": "Some words", "second": "and more", "at": at} for at in range(100, 1000)]


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What one answer took, what it asked for, and how large it was."""

    name: str
    took: float
    asked: Asked
    size: int


@dataclass(kw_only=True)
class Meter:
    """Every answer of each walk with its floor, and what one does where it is named."""

    plain: FlaskClient
    walks: list[list[tuple[Answer, float]]] = field(default_factory=list)
    profiled: str = ""
    profile: cProfile.Profile = field(default_factory=cProfile.Profile)

    def measure(self, name: str, ours: Callable[[], TestResponse], **kwargs: Any) -> TestResponse:  # noqa: ANN401
        """An answer and the plain one beside it, in every other walk first and as large as in the last."""
        walk = self.walks[-1]
        before = self.walks[-2][len(walk)][0] if len(self.walks) % 2 == 0 else None
        floor = self._floor(before, **kwargs) if before else 0
        with asked() as given:
            begun = time.process_time()
            answer = ours()
            took = time.process_time() - begun
        name += " to go on" if answer.status_code == 303 and name.startswith("GET") else ""
        found = Answer(name=name, took=took, asked=given, size=len(answer.get_data()))
        walk.append((found, floor or self._floor(found, **kwargs)))
        return answer

    def _floor(self, answer: Answer, **kwargs: Any) -> float:  # noqa: ANN401  # those of the client's `open`
        address = f"/{answer.size}/{len(answer.asked.statements)}/{min(answer.asked.writes, 1)}"
        begun = time.process_time()
        self.plain.open(address, **kwargs)
        return time.process_time() - begun

    def by_name(self) -> dict[str, list[tuple[Answer, float]]]:
        """The answers of all walks by what was asked."""
        found = defaultdict(list)
        for answer, floor in (each for walk in self.walks for each in walk):
            found[answer.name].append((answer, floor))
        return found


def metered(meter: Meter) -> type[FlaskClient]:
    """A client that times what it asks for."""

    class Metered(NamingClient):
        def open(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401  # the library's own signature
            name = f"{self.name_of(*args, **kwargs)} {self.source_of(*args, **kwargs)}".strip()
            plain = super().open
            if name == meter.profiled:
                return meter.profile.runcall(plain, *args, **kwargs)
            if meter.profiled:
                return plain(*args, **kwargs)
            return meter.measure(name, lambda: plain(*args, **kwargs), **kwargs)

    return Metered


def plain_pages(world: World) -> FlaskClient:
    """Pages that do what they are asked to and nothing else."""
    app, store = Flask("plain"), world.site.store
    template = app.jinja_env.from_string(_PLAIN)
    frame = len(template.render(rows=()))
    row = len(template.render(rows=_ROWS[:1])) - frame
    with store.read() as reader:
        check = next(reader.rows("check", unit=UNIT))["id"]
    look = Access(at=START, person=world.person(FIRST_NURSE).id, session="plain", check=check, what="check")

    @app.route("/<int:size>/<int:statements>/<int:writes>", methods=["GET", "POST"])
    def page(size: int, statements: int, writes: int) -> str:
        with store.read() as reader:
            for _ in range(statements):
                reader.find_unit(UNIT)
        if writes:
            with store.write() as tx:
                tx.add_access(look)
        return template.render(rows=_ROWS[: max(0, size - frame) // row]).ljust(size)

    client = app.test_client()
    assert len(client.get("/20000/1/1").get_data()) == 20_000
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
        beds = map(str, cycle(range(1, 37)))
        # The first is not measured: templates are compiled, statements are prepared.
        walk_set_up(world, next(beds))
        meter = Meter(plain=plain_pages(world))
        world.app.test_client_class = metered(meter)
        for _ in range(wanted):
            meter.walks.append([])
            walk_set_up(world, next(beds))
        dearest, worst = report(meter)
        meter.profiled = sys.argv[2] if len(sys.argv) > 2 else dearest
        walk_set_up(world, next(beds))
        print(f"\n{meter.profiled}, profiled:\n{told(meter.profile)}")
        store.close()
    return 0 if worst <= AIM else 1


def report(meter: Meter) -> tuple[str, float]:
    """Print the ratios; the dearest of those that hash no secret, and its own."""
    answers = meter.by_name()
    ratios = {name: median(answer.took / floor for answer, floor in some) for name, some in answers.items()}
    inorder = sorted(ratios, key=lambda name: ratios[name])
    print("times its floor: ms of CPU; statements, loads, transactions that read, that write; bytes")
    for name in inorder:
        some = [answer for answer, _ in answers[name]]
        asked_for = max((each.asked for each in some), key=lambda each: len(each.statements))
        print(
            f"{name:<45}{ratios[name]:>6.2f}: {1000 * median(each.took for each in some):>5.1f} ms;"
            f"{len(asked_for.statements):>3} st {asked_for.loads:>2} lo {asked_for.reads:>2} re "
            f"{asked_for.writes:>2} wr;{max(each.size for each in some):>6}  ({len(some)} asked)"
        )
    dearest = [name for name in inorder if "secret" not in name][-1]
    return dearest, ratios[dearest]


def told(profile: cProfile.Profile) -> str:
    """What of ours takes longest, with what it calls."""
    text = io.StringIO()
    stats = pstats.Stats(profile, stream=text).sort_stats("cumulative")
    stats.print_stats(_DEAREST_SHOWN)
    return text.getvalue()


if __name__ == "__main__":
    sys.exit(main())
