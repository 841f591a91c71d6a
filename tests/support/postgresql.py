"""The test run's own PostgreSQL cluster: started on demand, shared by all workers, gone afterwards."""

import fcntl
import json
import os
import pwd
import shlex
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

import psycopg
from psycopg import sql

SUPERUSER = "countersign"

SETTINGS = {
    # Reached through its own folder only; nothing listens on the network.
    "listen_addresses": "",
    "max_connections": "100",
    # The machine may lose power during a test run without harm.
    "fsync": "off",
    "full_page_writes": "off",
    "synchronous_commit": "off",
    # Nobody follows this server, and nothing of it is ever recovered.
    "wal_level": "minimal",
    "max_wal_senders": "0",
    "checkpoint_timeout": "1h",
    # A statement here is over before it would be compiled.
    "jit": "off",
    # A database lives for one test.
    "autovacuum": "off",
    # A statement's parameters, and a row that is refused, are readings and names: they never reach the log.
    "log_parameter_max_length": "0",
    "log_parameter_max_length_on_error": "0",
    "log_error_verbosity": "terse",
}

# Ends the cluster when the run that asked for it is gone, however it went.
KEEPER = """
run=$1 folder=$2
shift 2
(
    while kill -0 "$run"; do sleep 1; done
    "$@"
    rm -rf "$folder"
) &
"""


@dataclass(frozen=True, kw_only=True)
class Cluster:
    """A running server, reached through the socket in its folder."""

    folder: Path

    def url(self, database: str) -> str:
        """The SQLAlchemy address of one of its databases."""
        return f"postgresql+psycopg://{SUPERUSER}@/{database}?{urlencode({'host': str(self.folder)})}"

    def create(self, database: str, *, template: str = "template0") -> None:
        """Makes a database as a copy of another."""
        self._run(
            # Copying the files is the quicker way where nothing waits for the disk.
            sql.SQL("CREATE DATABASE {} TEMPLATE {} STRATEGY file_copy").format(
                sql.Identifier(database), sql.Identifier(template)
            ),
        )

    def drop(self, database: str) -> None:
        """Removes a database, whoever is still connected to it."""
        self._run(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(database)))

    def connect(self, database: str = "postgres") -> psycopg.Connection[tuple[object, ...]]:
        """A connection of its own, each statement committed at once."""
        return psycopg.connect(host=str(self.folder), user=SUPERUSER, dbname=database, autocommit=True)

    def _run(self, statement: sql.Composed) -> None:
        with self.connect() as connection:
            connection.execute(statement)


def shared_cluster(shared: Path, run: int) -> Cluster:
    """The run's one cluster, started by the first worker to come; all of them belong to the process `run`."""
    with _one_at_a_time(shared / "postgresql.lock"):
        told = shared / "postgresql.json"
        if not told.exists():
            folder = _start(run)
            told.write_text(json.dumps({"folder": str(folder)}), encoding="utf-8")
        return Cluster(folder=Path(json.loads(told.read_text(encoding="utf-8"))["folder"]))


@contextmanager
def _one_at_a_time(lock: Path) -> Iterator[None]:
    with lock.open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def binaries() -> Path:
    """The folder of the newest PostgreSQL server; RuntimeError where there is none: its tests fail."""
    versions = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=_version)
    found = str(versions[-1]) if versions else shutil.which("initdb")
    if found is None:
        message = "PostgreSQL's server is not installed and half of the tests need it: run .ci/setup --dev"
        raise RuntimeError(message)
    return Path(found).resolve().parent


def _version(initdb: Path) -> int:
    name = initdb.parents[1].name
    return int(name) if name.isdigit() else 0


def _start(run: int) -> Path:
    """A new cluster in a folder of its own, and a keeper that ends it when the run is gone."""
    programs = binaries()
    folder = Path(tempfile.mkdtemp(prefix="countersign-postgresql-"))
    as_user = _as_unprivileged_user(folder)
    data, log = folder / "data", folder / "log"
    initdb = [*as_user, programs / "initdb", "--pgdata", data, "--username", SUPERUSER, "--auth", "trust"]
    _run_quietly([*initdb, "--encoding", "UTF8", "--locale", "C.UTF-8", "--no-sync"])
    options = shlex.join(["-k", str(folder), *(f"--{name}={value}" for name, value in SETTINGS.items())])
    control = [*as_user, programs / "pg_ctl", "--pgdata", data, "--wait"]
    try:
        _run_quietly([*control, "--log", log, "--options", options, "start"])
    except subprocess.CalledProcessError as failed:
        message = "PostgreSQL did not start:\n" + log.read_text(encoding="utf-8")
        raise RuntimeError(message) from failed
    _run_quietly(
        ["/bin/sh", "-c", KEEPER, "keeper", str(run), folder, *control, "--mode", "immediate", "stop"],
    )
    return folder


def _run_quietly(command: list[str | Path]) -> None:
    """Runs a command, or what it leaves running, away from this terminal, this folder and these pipes."""
    subprocess.run(
        command,
        check=True,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd="/",
        start_new_session=True,
    )


def _as_unprivileged_user(folder: Path) -> list[str | Path]:
    """How to run the server, which refuses to be root: as the user postgres, who then owns the folder."""
    if os.geteuid() != 0:
        return []
    try:
        user = pwd.getpwnam("postgres")
    except KeyError as missing:
        message = "PostgreSQL will not run as root and there is no user postgres: run .ci/setup --dev"
        raise RuntimeError(message) from missing
    os.chown(folder, user.pw_uid, user.pw_gid)
    return ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups", "--"]
