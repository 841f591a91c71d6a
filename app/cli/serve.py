"""`countersign serve`: the application for others, by several processes, behind a proxy that speaks https."""

from typing import Any

import click
from gunicorn.app.base import BaseApplication
from gunicorn.config import Config
from gunicorn.glogging import Logger
from gunicorn.util import import_app

from app.cli.installation import fail, now, settings
from app.site.readiness import find_faults


class _ServerLog(Logger):
    """What the server says of its processes; each request is the application's to tell."""

    def setup(self, cfg: Config) -> None:
        from app.web.log_lines import Lines

        super().setup(cfg)
        for handler in self.error_log.handlers:
            handler.setFormatter(Lines())


class _Server(BaseApplication):
    def __init__(self, options: dict[str, Any]) -> None:
        self.options = options
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Any:  # noqa: ANN401  # a WSGI application
        # In each process anew: connections and the sweeper's thread are not carried over a fork.
        return import_app("app.wsgi:app")


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
def serve(*, bind: str, workers: int, threads: int, proxy: str) -> None:
    """Serve the application for others; what keeps it from being served is said before anything starts."""
    made = settings()
    if made.demo:
        fail("COUNTERSIGN_MODE: a server for others runs in production mode, behind https")
    faults = find_faults(made, now())
    if faults:
        fail("\nerror: ".join(each.says for each in faults))
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
        }
    ).run()
