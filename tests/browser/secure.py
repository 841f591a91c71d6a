"""Servers over https, as a hospital runs them, with the cookies of an installation in use."""

import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from werkzeug.serving import WSGIRequestHandler, make_server

from app.cli.demo_site import Demonstration
from app.cli.installation import now
from app.config import load_settings
from app.keys import new_id
from app.web import Parts, create_app

if TYPE_CHECKING:
    from wsgiref.types import WSGIApplication


class _Quiet(WSGIRequestHandler):
    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002  # werkzeug's signature
        """Write nothing."""


@contextmanager
def serving(application: "WSGIApplication", *, https: bool) -> Iterator[str]:
    """Serve an application on loopback; over https with a certificate that nobody vouches for."""
    server = make_server(
        "127.0.0.1",
        0,
        application,
        threaded=True,
        request_handler=_Quiet,
        ssl_context="adhoc" if https else None,
    )
    thread = threading.Thread(target=server.serve_forever, args=[0.02])
    thread.start()
    try:
        yield f"http{'s' * https}://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@contextmanager
def over_https(
    running: Demonstration,
    around: "Callable[[WSGIApplication], WSGIApplication]" = lambda application: application,
) -> Iterator[Demonstration]:
    """Serve a demonstration's site a second time, over https and as an installation in use."""
    parts = Parts(
        site=running.site,
        settings=load_settings({}),
        clock=now,
        new_id=new_id,
        csrf_key=secrets.token_bytes(32),
    )
    with serving(around(create_app(parts)), https=True) as address:
        yield replace(running, address=address)
