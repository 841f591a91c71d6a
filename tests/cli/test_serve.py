"""`countersign serve`: nothing starts that should not, and the first request waits for no library."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

from app.cli import main
from tests.factories.invented_site import SEED, install, own_rules

LATER = """
import sys
from app.web.warming import warm_up
warm_up()
before = set(sys.modules)
from app.quantities import Dimension, parse_quantity
parse_quantity("0.5 mg/h", Dimension.MASS_RATE)
from tests.reports import told
loaded_by_tests = set(sys.modules) - before
told.printed("cautions")
loaded = set(sys.modules) - before - loaded_by_tests
print(sorted(each for each in loaded if not each.startswith("encodings.")))
"""


def environ_of(folder: Path, url: str) -> dict[str, str]:
    return {
        "DATABASE_URL": url,
        "COUNTERSIGN_KEY_FILE": str(folder / "keys" / "application.key"),
        "COUNTERSIGN_SITE_KEYS": str(folder / "keys" / "site"),
        "COUNTERSIGN_TRUSTED_HOSTS": "127.0.0.1",
    }


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (
            {},
            "error: rules: some of those in force are invented, never for a patient",
        ),
        (
            {"COUNTERSIGN_MODE": "demo"},
            "error: COUNTERSIGN_MODE: a server for others runs in",
        ),
        (
            {"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/x"},
            "error: database: it cannot be reached",
        ),
        (
            {"COUNTERSIGN_KEY_FILE": "none.key"},
            "error: application key: COUNTERSIGN_KEY_FILE: there is no",
        ),
        ({"COUNTERSIGN_SITE_KEYS": "none"}, "error: keys of the site: COUNTERSIGN_SITE_KEYS"),
        ({"COUNTERSIGN_DATE_ORDER": "any"}, "error: COUNTERSIGN_DATE_ORDER: write one of"),
    ],
)
def test_what_should_not_be_served_is_said_and_nothing_starts(
    tmp_path: Path, sqlite_url: str, changed: dict[str, str], says: str
) -> None:
    environ = environ_of(tmp_path, sqlite_url)
    assert install(SEED, env=environ).exit_code == 0
    ran = CliRunner().invoke(main, ["serve"], env={**environ, **changed})

    assert ran.exit_code == 2
    assert says in ran.output
    assert all(line.startswith("error: ") for line in ran.output.splitlines())


@pytest.mark.parametrize(
    ("metrics", "says"),
    [
        ("127.0.0.1:8000", "error: --metrics: a port of its own is needed"),
        ("127.0.0.1", "error: --metrics: write an address with its port"),
        ("127.0.0.1:0", "error: --metrics: write an address with its port"),
    ],
)
def test_metrics_are_served_at_a_port_of_their_own_or_nothing_starts(
    tmp_path: Path, sqlite_url: str, metrics: str, says: str
) -> None:
    environ = environ_of(tmp_path, sqlite_url)
    assert install(own_rules(tmp_path / "rules"), env=environ).exit_code == 0
    ran = CliRunner().invoke(main, ["serve", "--metrics", metrics], env=environ)

    assert ran.exit_code == 2
    assert ran.output.startswith(says)
    assert ran.output.count("\n") == 1


@pytest.mark.parametrize("option", ["--bind", "--metrics"])
def test_a_port_that_no_machine_has_is_said_and_nothing_starts(
    tmp_path: Path, sqlite_url: str, option: str
) -> None:
    environ = environ_of(tmp_path, sqlite_url)
    assert install(own_rules(tmp_path / "rules"), env=environ).exit_code == 0
    ran = CliRunner().invoke(main, ["serve", option, "127.0.0.1:65536"], env=environ)

    assert ran.exit_code == 2
    assert ran.output.startswith(f"error: {option}: ")
    assert ran.output.count("\n") == 1


def test_after_warming_up_a_dose_and_a_record_load_nothing_more() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", LATER],
        capture_output=True,
        check=True,
        text=True,
        env={**os.environ, "PYTHONPATH": "."},
    )

    assert ran.stdout.splitlines()[-1] == "[]"


def signs_in_behind_a_proxy(at: str) -> int:
    """How a form is answered that came over https to the proxy: it is read, and the secret is wrong."""
    over_https = {"X-Forwarded-Proto": "https"}
    asked = HTTPConnection(at, timeout=100)
    asked.request("GET", "/sign-in", headers=over_https)
    page = asked.getresponse()
    cookie = page.headers["Set-Cookie"].partition(";")[0]
    token = re.search(rb'name="csrf_token" value="(\w+)"', page.read())
    assert token is not None
    sent = urlencode({"csrf_token": token[1], "login": "nobody", "secret": "wrong", "unit": "ward-4-east"})
    form = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"https://{at}", "Cookie": cookie}
    asked.request("POST", "/sign-in", sent, {**over_https, **form})
    status = asked.getresponse().status
    asked.close()
    return status


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port: int = listening.getsockname()[1]
    return port


def asked_at(at: str, path: str) -> tuple[int, str]:
    asked = HTTPConnection(at, timeout=100)
    # Whatever a request says of itself, it came by the socket that it came by.
    asked.request("GET", path, headers={"Host": "127.0.0.1:9100", "X-Forwarded-Port": "9100"})
    answer = asked.getresponse()
    told = answer.read().decode()
    asked.close()
    return answer.status, told


def says_nonsense(at: str) -> None:
    """Bytes that are no request, which the server would quote in its log."""
    host, _, port = at.partition(":")
    with socket.create_connection((host, int(port)), timeout=60) as raw:
        raw.sendall(b"nonsense(7.3719 mg)\r\n\r\n")
        assert b" 400 " in raw.recv(1000)


def test_a_sites_own_rules_are_served_and_a_signal_ends_it(tmp_path: Path, sqlite_url: str) -> None:
    environ = environ_of(tmp_path, sqlite_url)
    assert install(own_rules(tmp_path / "rules"), env=environ).exit_code == 0
    words = ["-c", "from app.cli import main; main()", "serve", "--bind", "127.0.0.1:0", "--workers", "2"]
    metrics = f"127.0.0.1:{free_port()}"
    words += ["--metrics", metrics]
    serving = subprocess.Popen(
        [sys.executable, *words], stderr=subprocess.PIPE, text=True, env={**os.environ, **environ}
    )
    try:
        assert serving.stderr is not None
        told = (re.search(r"Listening at: http://([^,\s]+)", line) for line in serving.stderr)
        at = next(found[1] for found in told if found)
        asked = HTTPConnection(at, timeout=100)
        asked.request("GET", "/ready")
        assert asked.getresponse().read() == b"ready\n"
        asked.close()
        assert signs_in_behind_a_proxy(at) == 422
        says_nonsense(at)
        assert asked_at(at, "/metrics")[0] == 404
        assert asked_at(metrics, "/sign-in")[0] == 404
        status, measured = asked_at(metrics, "/metrics")
        assert status == 200
        assert 'countersign_answers_total{method="POST",route="/sign-in",status="4xx"} 1.0' in measured
        assert "countersign_sign_in_failures_total 1.0" in measured
        assert "countersign_database_up 1.0" in measured
    finally:
        serving.send_signal(signal.SIGTERM)
        _, rest = serving.communicate(timeout=60)
    assert serving.returncode == 0
    lines = [json.loads(line) for line in rest.splitlines()]
    assert {"time", "level", "process", "from"} <= set.intersection(*map(set, lines))
    assert [(each["method"], each["route"], each["status"]) for each in lines if "route" in each] == [
        ("GET", "/sign-in", 200),
        ("POST", "/sign-in", 422),
        ("GET", "none", 404),
    ]
    assert "left out: it may quote a request" in {each["says"] for each in lines}
    assert "nonsense" not in rest
