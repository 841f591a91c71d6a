"""Metrics for whoever runs the site (Prometheus): counts and times, and of whom or at which bed never.

They are served at an address of their own, which no proxy leads to: nothing of the application is there, and
at the application's address there is nothing of them.
"""

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import Any

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_LATEST
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from app.site.installation import Site
from app.storage import StoreUnavailable
from app.workflow.sweeping import Standing, see_standing

Wsgi = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

# A page at the bedside is answered in some 50 ms; a PDF takes seconds.
_SECONDS = (0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)

ANSWERS = Counter(
    "countersign_answers", "Answers, by route and class of status.", ["method", "route", "status"]
)
ANSWER_SECONDS = Histogram(
    "countersign_answer_seconds", "How long an answer took.", ["route"], buckets=_SECONDS
)
SIGN_IN_FAILURES = Counter(
    "countersign_sign_in_failures", "Sign-ins, unlockings and secrets asked for once more that were refused."
)
DATABASE_ERRORS = Counter(
    "countersign_database_errors", "The database could not be reached, was full or too busy.", ["outcome"]
)


class _OfDatabase(Collector):
    """What waits for a sweep, asked of the database each time."""

    def __init__(self, site: Site, clock: Callable[[], datetime]) -> None:
        self._site, self._clock = site, clock
        # Up to here nothing waited: a database of years is not looked through each time.
        self._settled = 0

    def collect(self) -> Iterator[Metric]:
        try:
            standing = see_standing(self._site, self._clock(), after=self._settled)
        except StoreUnavailable:
            yield GaugeMetricFamily("countersign_database_up", "Whether the database answers.", 0)
            return
        self._settled = standing.settled
        yield GaugeMetricFamily("countersign_database_up", "Whether the database answers.", 1)
        yield from _told(standing)


def _told(standing: Standing) -> Iterator[Metric]:
    for name, says, value in (
        ("comparisons_pending", "Rounds that both handed in and nothing compared.", standing.uncompared),
        ("records_to_seal", "Records that both signed and that have no PDF.", standing.unsealed),
        ("records_to_seal_oldest_seconds", "For how long the oldest of these waits.", standing.oldest),
        ("sweeper_run_timestamp_seconds", "When the sweeper last ran (0: never).", standing.swept_at),
    ):
        yield GaugeMetricFamily(f"countersign_{name}", says, value)


class Aside:
    """The metrics at one port, the application at every other; neither is reached at the other's."""

    def __init__(self, app: Wsgi, site: Site, clock: Callable[[], datetime], *, port: int) -> None:
        """Serve these, the counts of all processes together."""
        self._app, self._port = app, port
        self._registry = CollectorRegistry()
        MultiProcessCollector(self._registry)  # type: ignore[no-untyped-call]  # the library's
        self._registry.register(_OfDatabase(site, clock))

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        """One request; whose it is says the socket that it came by, and nothing that the request says."""
        name = environ["gunicorn.socket"].getsockname()
        if not (isinstance(name, tuple) and name[1] == self._port):
            return self._app(environ, start_response)
        if (environ["REQUEST_METHOD"], environ["PATH_INFO"]) != ("GET", "/metrics"):
            start_response("404 Not Found", [("Content-Type", "text/plain; charset=utf-8")])
            return [b"metrics are at /metrics\n"]
        start_response("200 OK", [("Content-Type", CONTENT_TYPE_LATEST), ("Cache-Control", "no-store")])
        return [generate_latest(self._registry)]
