"""Metrics: what waits and for how long, at a port of their own, and nothing of whom or of what."""

import socket
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from prometheus_client import REGISTRY
from prometheus_client.parser import text_string_to_metric_families

from app.records.state import Phase
from app.storage import Store, StoreUnavailable
from app.web.metrics import Aside
from app.workflow.sweeping import sweep_once
from tests.story.pages import pair_of
from tests.support.world import World


@pytest.fixture
def sockets() -> Iterator[tuple[socket.socket, socket.socket]]:
    """The two that a server listens at: for people, and for metrics."""
    with socket.create_server(("127.0.0.1", 0)) as people, socket.create_server(("127.0.0.1", 0)) as own:
        yield people, own


@pytest.fixture
def read(
    world: World,
    sockets: tuple[socket.socket, socket.socket],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Callable[[], dict[str, float]]:
    """Reads the metrics as whoever watches the server does."""
    monkeypatch.setenv("PROMETHEUS_MULTIPROC_DIR", str(tmp_path))
    _, own = sockets
    beside = Aside(world.app, world.site, world.clock, port=own.getsockname()[1])

    def ask() -> dict[str, float]:
        environ = {"gunicorn.socket": own, "REQUEST_METHOD": "GET", "PATH_INFO": "/metrics"}
        written = b"".join(beside(environ, lambda *_: None)).decode()
        return {
            each.name: each.value
            for family in text_string_to_metric_families(written)
            for each in family.samples
        }

    return ask


def test_what_waits_is_told_and_for_how_long(
    world: World, read: Callable[[], dict[str, float]], quick_pdf: None
) -> None:
    assert quick_pdf is None
    assert (read()["countersign_records_to_seal"], read()["countersign_comparisons_pending"]) == (0, 0)
    pair_of(world).at_stage(Phase.CLEARED)
    world.clock.pass_(minutes=2)
    waiting = read()
    assert waiting["countersign_records_to_seal"] == 1
    assert 120 <= waiting["countersign_records_to_seal_oldest_seconds"] < 600

    sweep_once(world.site, world.clock.now, holder="test")
    after = read()
    assert after["countersign_records_to_seal"] == 0
    assert after["countersign_records_to_seal_oldest_seconds"] == 0
    assert after["countersign_sweeper_run_timestamp_seconds"] == world.clock.now.timestamp()
    assert after["countersign_database_up"] == 1


def test_a_database_that_is_lost_is_told_and_counted(
    world: World, read: Callable[[], dict[str, float]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def lost(_store: Store) -> None:
        raise StoreUnavailable(outcome_known=True)

    nurse = world.at("n.ferrow")
    before = counted("countersign_database_errors_total", outcome="nothing written")
    monkeypatch.setattr(Store, "read", lost)
    assert read() == {"countersign_database_up": 0}
    assert nurse.get("/").status == 503
    assert counted("countersign_database_errors_total", outcome="nothing written") > before


def counted(name: str, **labels: str) -> float:
    return REGISTRY.get_sample_value(name, labels) or 0


def test_answers_are_counted_by_route_and_class_and_failed_sign_ins_apart(world: World) -> None:
    before = counted("countersign_sign_in_failures_total")
    answers = {"method": "POST", "route": "/sign-in", "status": "4xx"}
    refused = counted("countersign_answers_total", **answers)
    browser = world.browser()
    browser.get("/sign-in")
    browser.press("Sign in", login="n.ferrow", secret="not the secret of anybody", unit="ward-4-east")

    assert counted("countersign_sign_in_failures_total") == before + 1
    assert counted("countersign_answers_total", **answers) == refused + 1
    assert counted("countersign_answer_seconds_count", route="/sign-in") >= 2


def test_each_port_serves_its_own_and_nothing_else(
    world: World,
    sockets: tuple[socket.socket, socket.socket],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("PROMETHEUS_MULTIPROC_DIR", str(tmp_path))
    people, own = sockets
    port = own.getsockname()[1]

    def app(_environ: dict[str, Any], _start: object) -> list[bytes]:
        return [b"the application"]

    beside = Aside(app, world.site, world.clock, port=port)
    # What a request says of its host and port decides nothing.
    claims = {"REQUEST_METHOD": "GET", "SERVER_PORT": str(port), "HTTP_HOST": f"127.0.0.1:{port}"}
    started: list[str] = []

    def start(status: str, _headers: object) -> None:
        started.append(status)

    assert beside({**claims, "gunicorn.socket": people, "PATH_INFO": "/metrics"}, start) == [
        b"the application"
    ]
    assert beside({**claims, "gunicorn.socket": own, "PATH_INFO": "/sign-in"}, start) != [b"the application"]
    assert started == ["404 Not Found"]
    with socket.socket(socket.AF_UNIX) as at_a_file:
        at_a_file.bind(str(tmp_path / "people.sock"))
        claims["PATH_INFO"] = "/metrics"
        assert beside({**claims, "gunicorn.socket": at_a_file}, start) == [b"the application"]


def test_no_label_names_more_than_method_route_class_and_outcome() -> None:
    labels = {
        name
        for family in REGISTRY.collect()
        if family.name.startswith("countersign_")
        for sample in family.samples
        for name in sample.labels
    }
    assert labels <= {"method", "route", "status", "outcome", "le"}


def test_when_the_sweeper_last_ran_is_told(world: World, read: Callable[[], dict[str, float]]) -> None:
    assert read()["countersign_sweeper_run_timestamp_seconds"] == 0
    sweep_once(world.site, world.clock.now - timedelta(hours=1), holder="test")
    assert read()["countersign_sweeper_run_timestamp_seconds"] == world.clock.now.timestamp() - 3600
