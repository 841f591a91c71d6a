"""The server's log: one JSON object a line, and nothing of a patient, a person, a secret or a check in it."""

import io
import json
import logging
import threading
from collections.abc import Callable, Iterator
from functools import wraps
from typing import Any

import pytest
from prometheus_client import generate_latest
from sqlalchemy.exc import DataError, IntegrityError, OperationalError

from app.storage import StoreUnavailable
from app.web.log_lines import Lines, log_in_lines
from tests.support.browser import ORIGIN, Browser
from tests.support.world import World
from tests.web.test_security import every_route

CANARY = "ZQX-canary-7.3719"


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Everything that any library logs, as the server writes it."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(Lines())
    everything = logging.getLogger()
    level = everything.level
    everything.addHandler(handler)
    everything.setLevel(logging.DEBUG)
    yield written
    everything.removeHandler(handler)
    everything.setLevel(level)


def lines(log: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in log.getvalue().splitlines()]


def answered(log: io.StringIO) -> list[dict[str, Any]]:
    return [each for each in lines(log) if each["says"] == "answered"]


def test_a_request_is_one_line_with_its_route_and_never_its_address(world: World, log: io.StringIO) -> None:
    nurse, _, check = world.pair()
    log.truncate(0)
    log.seek(0)
    nurse.client.get(f"/check/{check}/read/wristband?more=1", base_url=ORIGIN)
    (line,) = answered(log)

    assert {"time", "level", "process", "request", "from", "says", "method", "route", "status", "ms"} == set(
        line
    )
    assert line["time"].endswith("+00:00")
    assert (line["level"], line["method"], line["status"]) == ("info", "GET", 200)
    assert line["route"] == "/check/<check>/read/<source>"
    assert len(line["request"]) == 16
    assert check not in log.getvalue()


def test_pages_that_ask_by_themselves_are_told_only_when_they_fail(world: World, log: io.StringIO) -> None:
    client = world.app.test_client()
    for path in ("/health", "/static/countersign.css", "/ready"):
        client.get(path, base_url=ORIGIN).close()

    assert [(each["route"], each["status"], each["level"]) for each in answered(log)] == [
        ("/ready", 503, "error")
    ]


@pytest.fixture
def browsers(world: World) -> tuple[Browser, Browser]:
    """A nurse's, and nobody's; both have the token of their forms."""
    nurse, nobody = world.at("n.ferrow"), world.browser()
    nurse.get("/open")
    nobody.get("/sign-in")
    return nurse, nobody


def ask_everything(world: World, browsers: tuple[Browser, Browser], check: str) -> int:
    """Every route with the canary wherever a request has room for it."""
    asked = 0
    # What ends the session comes last.
    routes = sorted(every_route(world, check), key=lambda each: each.path in ("/sign-out", "/lock"))
    for browser in browsers:
        browser.client.set_cookie("more", CANARY)
        token = browser.token()
        for each in routes:
            for path in (each.path, each.path.replace(check, CANARY)):
                sent = {"csrf_token": token, CANARY: CANARY, "secret": CANARY, "login": CANARY, "bed": CANARY}
                browser.client.open(
                    path,
                    method=each.method,
                    base_url=ORIGIN,
                    query_string={"then": CANARY, CANARY: CANARY},
                    data=sent if each.method == "POST" else None,
                    headers={"Referer": f"{ORIGIN}/{CANARY}", "User-Agent": CANARY, "X-Request-Id": CANARY},
                ).close()
                asked += 1
    return asked


def left_out(world: World, check: str) -> tuple[str, ...]:
    nurse = world.person("n.ferrow")
    secret = world.secrets["n.ferrow"]
    return (CANARY, check, nurse.staff_number, nurse.login, nurse.id, nurse.printed_name, secret)


def test_no_handler_writes_what_it_was_sent_or_who_sent_it(
    world: World, log: io.StringIO, browsers: tuple[Browser, Browser]
) -> None:
    _, _, check = world.pair("t.osmund", "i.bexley")
    wanted = left_out(world, check)
    asked = ask_everything(world, browsers, check)

    assert asked > 200
    assert len(answered(log)) > asked // 2
    counted = generate_latest().decode()
    assert 'countersign_answers_total{method="POST",route="/check/<check>/danger"' in counted
    assert [each for each in wanted if each in log.getvalue() + counted] == []


def _unavailable() -> StoreUnavailable:
    unavailable = StoreUnavailable(outcome_known=True)
    unavailable.__cause__ = OperationalError(f"INSERT {CANARY}", {"v": CANARY}, Exception(CANARY))
    return unavailable


BROKEN: dict[str, Callable[[], Exception]] = {
    "bug": lambda: RuntimeError(CANARY),
    "value the database refuses": lambda: DataError(f"SELECT '{CANARY}'", {"v": CANARY}, Exception(CANARY)),
    "constraint": lambda: IntegrityError(
        f"INSERT {CANARY}", {"v": CANARY}, Exception(f"Key ({CANARY}) exists")
    ),
    "database lost": _unavailable,
}


@pytest.mark.parametrize("kind", BROKEN)
def test_however_a_handler_breaks_no_value_is_written(
    world: World,
    log: io.StringIO,
    *,
    browsers: tuple[Browser, Browser],
    monkeypatch: pytest.MonkeyPatch,
    kind: str,
) -> None:
    _, _, check = world.pair("t.osmund", "i.bexley")
    wanted = left_out(world, check)
    for endpoint, view in world.app.view_functions.items():
        monkeypatch.setitem(world.app.view_functions, endpoint, broken(view, BROKEN[kind]))
    asked = ask_everything(world, browsers, check)

    failed = [each for each in answered(log) if each["status"] >= 500]
    assert asked > len(failed) > 30
    assert {each["level"] for each in failed} == {"error"}
    # Each of these is told once more, with its kind and its place, under the same request.
    told = {
        each["request"]: each
        for each in lines(log)
        if each["says"] != "answered" and each["level"] == "error"
    }
    assert {each["request"] for each in failed} <= set(told)
    assert [each for each in wanted if each in log.getvalue()] == []


def broken(view: Callable[..., Any], raised: Callable[[], Exception]) -> Callable[..., Any]:
    """The same view, failing; what it declares stays with it."""

    @wraps(view)
    def fail(*_arguments: object, **_named: object) -> None:
        raise raised()

    return fail


def test_a_failure_outside_of_every_handler_is_told_without_the_address(
    world: World, log: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_response: object) -> None:
        raise RuntimeError(CANARY)

    monkeypatch.setitem(world.app.after_request_funcs, None, [fail])
    answer = world.app.test_client().get(f"/check/{CANARY}", base_url=ORIGIN)

    assert answer.status_code == 500
    assert any(each["says"].startswith("unhandled RuntimeError") for each in lines(log))
    assert CANARY not in log.getvalue()


def told(name: str, level: int, says: object, *arguments: object, **more: Any) -> dict[str, Any]:  # noqa: ANN401  # logging's own
    record = logging.LogRecord(name, level, "file.py", 1, says, arguments, more.get("exc_info"))
    line: dict[str, Any] = json.loads(Lines().format(record))
    return line


def test_what_other_libraries_say_is_left_out_and_an_exception_has_kind_and_place_alone() -> None:
    error = ValueError(CANARY)
    exc_info = (ValueError, error, None)
    line = told("weasyprint", logging.ERROR, "Ignored %s", CANARY, exc_info=exc_info)

    assert line["kind"] == "ValueError"
    assert line["from"] == "weasyprint"
    assert CANARY not in json.dumps(line)


@pytest.mark.parametrize(
    ("level", "says", "arguments", "told_as"),
    [
        (
            logging.INFO,
            "Listening at: %s (%s)",
            ("http://127.0.0.1:1", 2),
            "Listening at: http://127.0.0.1:1 (2)",
        ),
        (logging.CRITICAL, "WORKER TIMEOUT (pid:%s)", (7,), "WORKER TIMEOUT (pid:7)"),
        (logging.WARNING, f"Invalid request from ip=1: {CANARY}", (), "left out: it may quote a request"),
        (
            logging.ERROR,
            "Error handling request %s",
            (f"/check/{CANARY}",),
            "left out: it may quote a request",
        ),
        (logging.ERROR, ValueError(CANARY), (), "left out: it may quote a request"),
        (logging.DEBUG, f"GET {CANARY}", (), "left out: it may quote a request"),
    ],
)
def test_the_server_that_runs_it_tells_of_its_processes_alone(
    level: int, says: object, arguments: tuple[object, ...], told_as: str
) -> None:
    assert told("gunicorn.error", level, says, *arguments)["says"] == told_as


def test_a_thread_that_ends_and_a_warning_are_lines_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = logging.getLogger().handlers[:]
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    log_in_lines()
    try:

        def fail() -> None:
            raise ValueError(CANARY)

        thread = threading.Thread(target=fail)
        thread.start()
        thread.join()
        logging.getLogger("py.warnings").warning("%s", CANARY)
    finally:
        logging.captureWarnings(capture=False)
        logging.getLogger().handlers[:] = kept
    one, other = (json.loads(line) for line in capsys.readouterr().err.splitlines())

    assert one["says"].startswith("a thread ended: ValueError")
    assert other["from"] == "py.warnings"
    assert CANARY not in json.dumps([one, other])
