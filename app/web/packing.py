"""Pages, styles, scripts and drawings go out packed, so that a page with all that it asks for stays light.

Nobody else can have words of their own packed beside ours, to learn from the size: a request from another
site brings no cookie, and what another origin asks for is not packed. Fonts and documents are packed already.
"""

import gzip
from http import HTTPStatus

from flask import Flask, Response, request
from werkzeug.wsgi import FileWrapper

from app.web.other_sites import is_from_elsewhere

# What a script is called depends on the machine.
_SCRIPTS = frozenset({"text/javascript", "application/javascript"})
_WORTH_IT = frozenset({"text/html", "text/css", "image/svg+xml"}) | _SCRIPTS
_LEAST = 500
# More than this takes longer and saves nothing.
_LEVEL = 6


def pack(response: Response) -> Response:
    """After each view: what the browser takes packed is packed."""
    if response.status_code == HTTPStatus.NOT_MODIFIED:
        _let_go(response.response)
        return response
    if response.status_code == HTTPStatus.PARTIAL_CONTENT or response.mimetype not in _WORTH_IT:
        return response
    response.vary.add("Accept-Encoding")
    if not request.accept_encodings["gzip"] or is_from_elsewhere():
        return response
    # A file is handed to the server unread otherwise.
    response.direct_passthrough = False
    body = response.response
    plain = response.get_data()
    _let_go(body)
    if len(plain) < _LEAST:
        return response
    # Without the time of packing the same page is the same bytes.
    response.set_data(gzip.compress(plain, _LEVEL, mtime=0))
    response.headers["Content-Encoding"] = "gzip"
    tag, _ = response.get_etag()
    if tag:
        # The same in other bytes, which is what a weak tag says (RFC 9110, 8.8.3).
        response.set_etag(tag, weak=True)
    return response


def _let_go(body: object) -> None:
    """Close a file that was read, or will not be: where a browser hangs up, a server may leave it open."""
    if isinstance(body, FileWrapper):
        body.close()


def prepare(app: Flask) -> None:
    """Hook it into an application."""
    app.after_request(pack)
