"""`countersign serve`: the application for others, by several processes, behind a proxy that speaks https."""

import os
import shutil
import tempfile
from typing import Any

import click
from gunicorn.app.base import BaseApplication
from gunicorn.config import Config
from gunicorn.glogging import Logger
from gunicorn.util import import_app

from app.cli.installation import fail, now, settings
from app.site.readiness import find_faults

_LAST_PORT = 65535


class _ServerLog(Logger):
    """What the server says of its processes; each request is the application's to tell."""

    def setup(self, cfg: Config) -> None:
        from app.web.log_lines import Lines

        super().setup(cfg)
        for handler in self.error_log.handlers:
            handler.setFormatter(Lines())


class _Server(BaseApplication):
    def __init__(self, options: dict[str, Any], *, metrics_port: int) -> None:
        self.options, self.metrics_port = options, metrics_port
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Any:  # noqa: ANN401  # a WSGI application
        # In each process anew: connections and the sweeper's thread are not carried over a fork.
        app: Any = import_app("app.wsgi:app")
        if not self.metrics_port:
            return app
        from app.web.asking import EXTENSION
        from app.web.metrics import Aside

        parts = app.extensions[EXTENSION]
        return Aside(app, parts.site, parts.clock, port=self.metrics_port)


def _with_metrics(address: str, bind: str) -> dict[str, Any]:
    """What the server is told for metrics at an address of their own; before anything counts."""
    if bind.rpartition(":")[2] == _port(address):
        fail("--metrics: a port of its own is needed, which no proxy leads to")
    folder = tempfile.mkdtemp(prefix="countersign-metrics-")
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = folder

    def forget(_server: object, worker: Any) -> None:  # noqa: ANN401  # the server's own
        from prometheus_client.multiprocess import mark_process_dead

        mark_process_dead(worker.pid)  # type: ignore[no-untyped-call]  # the library's

    return {
        "bind": [bind, address],
        "child_exit": forget,
        "on_exit": lambda _server: shutil.rmtree(folder, ignore_errors=True),
    }


def _port(address: str) -> str:
    port = address.rpartition(":")[2]
    if not (port.isascii() and port.isdigit() and 0 < int(port[:6]) <= _LAST_PORT):
        fail("--metrics: write an address with its port, such as 127.0.0.1:9100")
    return port


@click.command()
@click.option("--bind", default="127.0.0.1:8000", show_default=True, help="Where the proxy reaches it.")
@click.option("--workers", type=click.IntRange(1, 64), default=2, show_default=True, help="Processes.")
@click.option("--threads", type=click.IntRange(1, 64), default=8, show_default=True, help="In each process.")
@click.option(
    "--proxy",
    default="127.0.0.1",
    show_default=True,
    help="Addresses, with commas, of the proxies whose X-Forwarded-Proto is believed.",
)
@click.option(
    "--metrics",
    default="",
    help="Where metrics are read, such as 127.0.0.1:9100; nowhere without it.",
)
def serve(*, bind: str, workers: int, threads: int, proxy: str, metrics: str) -> None:
    """Serve the application for others; what keeps it from being served is said before anything starts."""
    made = settings()
    port = bind.rpartition(":")[2]
    if port.isdigit() and int(port[:6]) > _LAST_PORT:
        fail(f"--bind: a port is at most {_LAST_PORT}")
    if made.demo:
        fail("COUNTERSIGN_MODE: a server for others runs in production mode, behind https")
    faults = find_faults(made, now())
    if faults:
        fail("\nerror: ".join(each.says for each in faults))
    measured = _with_metrics(metrics, bind) if metrics else {}
    from app.web.warming import warm_up

    click.echo("loading what the first requests need")
    warm_up()
    _Server(
        {
            "bind": bind,
            "workers": workers,
            "threads": threads,
            "worker_class": "gthread",
            "forwarded_allow_ips": proxy,
            "logger_class": _ServerLog,
            # An address names a check: the application tells of each request without it.
            "accesslog": None,
            # A PDF takes seconds on a busy machine; a process that hangs is replaced.
            "timeout": 120,
            "graceful_timeout": 30,
            "proc_name": "countersign",
            **measured,
        },
        metrics_port=int(_port(metrics)) if metrics else 0,
    ).run()
