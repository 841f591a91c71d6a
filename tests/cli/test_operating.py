"""The operator's guide is walked: its commands run as they stand, in an empty folder, on each engine."""

import configparser
import os
import re
import shlex
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode

import click
import pytest

from app.cli import main
from app.config import root
from tests.factories.invented_site import own_rules
from tests.support.postgresql import SUPERUSER, Cluster

GUIDE = root() / "app" / "cli" / "OPERATING.md"
WALK = GUIDE.with_name("WALK.md")
ENGINES = ("sqlite", "postgresql")
SECRETS = {"i.vance": "seven herons by the canal", "o.marsh": "nine lanterns under the bridge"}
PASSPHRASE = "eleven kites over the salt marsh"
# How each kind of block is looked at; a kind that is not here fails.
READ = {"console", "nginx", "ini"}
RUN = {
    "sh": "by everybody",
    "sh sqlite": "on SQLite",
    "sh postgresql": "on PostgreSQL",
    "sh in another terminal": "and goes on",
    "sh after both have set a secret": "once they have",
    "sh with the server stopped": "once it is",
}


@dataclass(frozen=True, kw_only=True)
class Block:
    """What stands between two fences."""

    kind: str
    text: str


def blocks() -> list[Block]:
    found = re.findall(
        r"^```([^\n]+)\n(.*?)^```$", WALK.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL
    )
    return [Block(kind=kind, text=text) for kind, text in found]


def of_kind(kind: str) -> str:
    (text,) = (each.text for each in blocks() if each.kind == kind)
    return text


def test_every_block_of_the_guide_is_run_or_read() -> None:
    assert {each.kind for each in blocks()} == READ | set(RUN)
    # What is to be typed stands in the walk alone.
    assert "```" not in GUIDE.read_text(encoding="utf-8")


def test_what_one_page_of_the_guide_leads_to_is_there() -> None:
    for page in (GUIDE, WALK):
        for name, place in re.findall(
            r"\]\(((?:OPERATING|WALK)\.md)?(?:#([a-z-]+))?\)", page.read_text("utf-8")
        ):
            text = (page.with_name(name) if name else page).read_text(encoding="utf-8")
            headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
            places = {re.sub(r"[^a-z -]", "", each.lower()).replace(" ", "-") for each in headings}
            assert not place or place in places, (page.name, name, place)


@dataclass(kw_only=True)
class Operator:
    """Somebody at a shell in an empty folder, who types what the guide says."""

    engine: str
    folder: Path
    environ: dict[str, str]
    # What stands in the guide for what every machine has otherwise.
    instead: dict[str, str]
    codes: dict[str, str] = field(default_factory=dict)
    serving: subprocess.Popen[str] | None = None

    def takes(self, block: Block) -> None:
        match block.kind:
            case "sh in another terminal":
                self.serves(block.text)
            case "sh after both have set a secret":
                for login, secret in SECRETS.items():
                    self.sets_secret(login, secret)
                self.types(block.text, *SECRETS.values())
            case "sh with the server stopped":
                self.stops()
                self.types(block.text)
            case "sh":
                self.types(block.text, PASSPHRASE, PASSPHRASE)
            case kind if kind == f"sh {self.engine}":
                self.types(block.text)

    def types(self, text: str, *answers: str) -> None:
        """Run a block; what it leaves in the environment stays for the next one."""
        script = f"set -e\n{self.as_here(text)}\nexport -p > {self.folder / '.environment'}\n"
        before = self.folder / ".environment"
        ran = subprocess.run(
            ["bash", "-c", (f". {before}\n" if before.exists() else "") + script],
            cwd=self.folder,
            env=self.environ,
            input="".join(f"{each}\n" for each in answers),
            capture_output=True,
            text=True,
            check=False,
            # Without a terminal of its own what is asked at the prompt is read from here.
            start_new_session=True,
        )
        assert ran.returncode == 0, f"{text}\n{ran.stdout}\n{ran.stderr}"
        self.codes |= dict(re.findall(r"one-time code for (\S+): (\S+)", ran.stdout))

    def as_here(self, text: str) -> str:
        for there, here in self.instead.items():
            text = text.replace(there, here)
        return text

    def serves(self, text: str) -> None:
        script = f". {self.folder / '.environment'}\nexec {self.as_here(text)}"
        self.serving = subprocess.Popen(
            ["bash", "-c", script], cwd=self.folder, env=self.environ, stderr=subprocess.PIPE, text=True
        )
        assert self.serving.stderr is not None
        assert any("Listening at" in line for line in self.serving.stderr)

    def stops(self) -> None:
        if self.serving is not None:
            self.serving.send_signal(signal.SIGTERM)
            self.serving.communicate(timeout=60)
            assert self.serving.returncode == 0
            self.serving = None

    def sets_secret(self, login: str, secret: str) -> None:
        """At the page, through the proxy."""
        by_proxy = {"X-Forwarded-Proto": "https", "Host": "checks.example"}
        server = HTTPConnection(self.instead["127.0.0.1:8000"], timeout=60)
        server.request("GET", "/first-secret", headers=by_proxy)
        page = server.getresponse()
        cookie = page.headers["Set-Cookie"].partition(";")[0]
        token = re.search(rb'name="csrf_token" value="(\w+)"', page.read())
        assert token is not None
        sent = urlencode(
            {
                "csrf_token": token[1],
                "login": login,
                "code": self.codes[login],
                "secret": secret,
                "again": secret,
            }
        )
        form = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": cookie}
        origin = {"Origin": "https://checks.example"}
        server.request("POST", "/first-secret", sent, {**by_proxy, **form, **origin})
        answer = server.getresponse()
        assert answer.status == 303, answer.read()
        server.close()


def free_address() -> str:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return f"127.0.0.1:{listening.getsockname()[1]}"


@contextmanager
def at_a_shell(engine: str, folder: Path, cluster: Cluster) -> Iterator[Operator]:
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    own = {
        name: text
        for name, text in os.environ.items()
        if not name.startswith(("COUNTERSIGN", "DATABASE", "PG"))
    }
    operator = Operator(
        engine=engine,
        folder=folder,
        # The administrator of the tests' server, whom no address of the guide names.
        environ={**own, "PATH": path, "PGUSER": SUPERUSER, "PGHOST": str(cluster.folder)},
        instead={
            "db.example": str(cluster.folder),
            "127.0.0.1:8000": free_address(),
            "127.0.0.1:9100": free_address(),
            # One process is enough for two people.
            "countersign serve": "countersign serve --workers 1",
        },
    )
    try:
        yield operator
    finally:
        operator.stops()
        if engine == "postgresql":
            with cluster.connect() as connection:
                for name in ("countersign", "countersign_lost"):
                    connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)".encode())
                for role in ("countersign_owner", "countersign_program"):
                    connection.execute(f"DROP ROLE IF EXISTS {role}".encode())


@pytest.mark.timeout(300)
@pytest.mark.parametrize("engine", ENGINES)
def test_the_walk_of_the_guide_goes_through_in_an_empty_folder(
    engine: str, tmp_path: Path, postgresql: Cluster
) -> None:
    folder = tmp_path / "srv"
    folder.mkdir()
    own_rules(folder / "rules")
    with at_a_shell(engine, folder, postgresql) as operator:
        for block in blocks():
            operator.takes(block)
    made = {each.name for each in folder.iterdir()}
    assert {"countersign.env", "keys", "lost-keys", "apart", "backups", "papers"} <= made
    assert ("countersign.sqlite3" in made) is (engine == "sqlite")
    assert sorted(each.name for each in (folder / "apart").iterdir()) == [
        "checkpoint.json",
        "keys-1",
        "keys-2",
        "site.pem",
    ]


def options_of(words: list[str]) -> None:
    """Whether a command of the guide, which is not run, is one with these options; raises click's own."""
    name, *rest = words
    command = main.get_command(click.Context(main), name)
    assert command is not None
    command.make_context(name, rest)


def test_the_unit_of_systemd_starts_what_the_walk_serves() -> None:
    unit = configparser.ConfigParser(strict=True, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]  # its names have capitals
    unit.read_string(of_kind("ini"))

    assert set(unit.sections()) == {"Unit", "Service", "Install"}
    program, *words = shlex.split(unit["Service"]["ExecStart"])
    assert program.endswith("/.venv/bin/countersign")
    options_of(words)
    assert f"countersign {shlex.join(words)}\n" == of_kind("sh in another terminal")
    assert unit["Service"]["EnvironmentFile"] == f"{unit['Service']['WorkingDirectory']}/countersign.env"
    assert int(unit["Service"]["TimeoutStopSec"]) > 30


def test_the_proxy_leads_to_where_it_is_served_and_says_what_is_needed() -> None:
    lines = [line.split("#")[0].strip() for line in of_kind("nginx").splitlines()]
    said = [line for line in lines if line]

    assert of_kind("nginx").count("{") == of_kind("nginx").count("}")
    assert all(line.endswith((";", "{", "}")) for line in said)
    assert "proxy_pass http://127.0.0.1:8000;" in said
    assert "--bind 127.0.0.1:8000" in of_kind("sh in another terminal")
    assert {"proxy_set_header Host $host;", "proxy_set_header X-Forwarded-Proto https;"} <= set(said)
    assert "access_log off;" in said
    # Metrics are read at the host alone.
    assert "9100" not in of_kind("nginx")
    name = re.search(r"server_name (\S+);", of_kind("nginx"))
    assert name is not None
    assert f"COUNTERSIGN_TRUSTED_HOSTS={name[1]}\n" in "".join(each.text for each in blocks())


def test_the_command_that_installs_is_there() -> None:
    name = of_kind("console").strip().removeprefix("/opt/countersign/")
    assert os.access(root() / name, os.X_OK)


def test_every_command_and_setting_that_the_guide_names_is_one() -> None:
    text = GUIDE.read_text(encoding="utf-8") + WALK.read_text(encoding="utf-8")
    context = click.Context(main)
    for name in re.findall(r"`countersign ([a-z-]+)", text):
        assert main.get_command(context, name) is not None, name
    settings = (root() / "app" / "config" / "settings.py").read_text(encoding="utf-8")
    for name in set(re.findall(r"`?(COUNTERSIGN_[A-Z_]+|DATABASE_[A-Z_]*URL)", text)):
        assert name in settings, name
