"""What a hundred pages cost that wait and ask each second, in parts of one core.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_waiting.py [TURNS]`.
Fifty checks in five phases, of each both nurses, and each page asks in a session of its own whether it still
shows what is. Before every turn something happens elsewhere. CPU time of this process for the whole answer of
the application, without the server before it and, on PostgreSQL, without the other process; median of the
turns. Exits with 1 when the hundred cost more than a tenth of a core.
"""

import itertools
import os
import secrets
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from typing import Any

from werkzeug.test import EnvironBuilder

from app.keys import new_token, token_digest
from app.records.kept import Session
from app.records.state import Phase
from app.storage import migrate
from app.web import Parts
from tests.story.people import WARD
from tests.story.ward import Ward, written_anew
from tests.support.applications import application
from tests.support.browser import ORIGIN
from tests.support.postgresql import shared_cluster
from tests.support.world import make_settings

AIM = 0.1
PAGES = 100
TURNS = int(sys.argv[1]) if len(sys.argv) > 1 else 40
PHASES = (Phase.READING, Phase.AGREED, Phase.STEPS, Phase.SIGNING, Phase.CLEARED)


def waiting(ward: Ward) -> Iterator[dict[str, Any]]:
    """What each page asks, as the server hands it in."""
    settings, where = make_settings(), []
    for number in range(PAGES // 2):
        ward.at_stage(PHASES[number % len(PHASES)])
        where.append(f"/check/{ward.check}/since/{ward.state().told_position}")
    for path, who in itertools.product(where, (ward.first, ward.second)):
        token, device = new_token(), secrets.token_hex(16)
        with ward.site.store.write() as tx:
            tx.add_session(
                Session(
                    digest=token_digest(token),
                    person=who.id,
                    device=device,
                    unit=WARD,
                    signed_in_at=ward.now,
                    last_seen_at=ward.now,
                    ended_at=None,
                    method="secret",
                    shift_session="",
                )
            )
        cookies = f"{settings.session_cookie}={token}; {settings.device_cookie}={device}"
        yield EnvironBuilder(path=path, base_url=ORIGIN, headers=[("Cookie", cookies)]).get_environ()


def cost(engine: str, address: str) -> bool:
    """Print what they cost; whether it is little enough."""
    migrate(address)
    with written_anew(address) as ward:
        pages, now = list(waiting(ward)), ward.now
        parts = Parts(
            site=ward.site,
            settings=make_settings(),
            clock=lambda: now,
            new_id=lambda: secrets.token_hex(16),
            csrf_key=b"k" * 32,
        )
        app, took = application(parts), []
        for _ in range(TURNS):
            ward.opens()
            begun = time.process_time()
            answered = [_answer(app.wsgi_app, dict(page)) for page in pages]
            took.append(time.process_time() - begun)
            assert set(answered) == {"204 NO CONTENT"}, set(answered)
    print(f"{engine}: {PAGES} pages that wait cost {100 * median(took):.1f} % of one core", flush=True)
    return median(took) <= AIM


def _answer(app: Any, environ: dict[str, Any]) -> str:  # noqa: ANN401  # a WSGI application
    said: list[str] = []
    body = app(environ, lambda status, _headers, _error=None: said.append(status))
    b"".join(body)
    body.close()
    return said[0]


def main() -> int:
    """Both engines."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cheap = [cost("SQLite", f"sqlite:///{folder / 'waiting.sqlite3'}")]
        cluster = shared_cluster(folder, os.getpid())
        cluster.create("waiting")
        cheap.append(cost("PostgreSQL", cluster.url("waiting")))
    return 0 if all(cheap) else 1


if __name__ == "__main__":
    sys.exit(main())
