"""Make the application: every part is handed in."""

import io
import logging
from types import TracebackType
from typing import IO

from flask import Flask, Request, redirect, render_template
from flask.typing import ResponseReturnValue
from jinja2 import StrictUndefined
from werkzeug.exceptions import HTTPException, MethodNotAllowed, SecurityError

from app.config import root
from app.records.formats import UnknownFormatError
from app.storage import StoreUnavailable
from app.web import asking, headers, noting, packing, refused, shown
from app.web.access import public, require_all_declared
from app.web.asking import EXTENSION, Parts
from app.web.coming_back import page_instead
from app.web.log_lines import place
from app.web.not_kept import say_what_was_kept
from app.web.views import BLUEPRINTS

_log = logging.getLogger(__name__)

LARGEST_REQUEST = 64 * 1024
MOST_FIELDS = 300


class InMemory(Request):
    """A request whose files are held in memory alone: the library would write larger ones to the disk.

    Its fields know which of them anybody asked for.
    """

    parameter_storage_class = refused.AskedFor

    def _get_file_stream(
        self,
        total_content_length: int | None,  # noqa: ARG002  # the library's signature
        content_type: str | None,  # noqa: ARG002
        filename: str | None = None,  # noqa: ARG002
        content_length: int | None = None,  # noqa: ARG002
    ) -> IO[bytes]:
        return io.BytesIO()


class Application(Flask):
    """What fails outside of every handler is logged without the address, and without what failed."""

    def log_exception(
        self, exc_info: tuple[type, BaseException, TracebackType] | tuple[None, None, None]
    ) -> None:
        """Instead of the library's line."""
        kind, error, trace = exc_info
        _log.error("unhandled %s at %s", kind.__name__ if kind else "", place(error, trace))


def create_app(parts: Parts) -> Flask:
    """The application over these parts; raises when a view declares no access."""
    app = Application(
        "app.web", template_folder=str(root() / "templates"), static_folder=str(root() / "static")
    )
    app.request_class = InMemory
    app.config.update(
        MAX_CONTENT_LENGTH=LARGEST_REQUEST,
        MAX_FORM_MEMORY_SIZE=LARGEST_REQUEST,
        MAX_FORM_PARTS=MOST_FIELDS,
        TRUSTED_HOSTS=list(parts.settings.trusted_hosts),
    )
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.extensions[EXTENSION] = parts
    app.view_functions["static"] = public(app.view_functions["static"])
    # First before a request, and so last after it: it sees what is answered.
    noting.prepare(app)
    packing.prepare(app)
    asking.prepare(app)
    headers.prepare(app)
    refused.prepare(app)
    shown.prepare(app)
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint)
    app.register_error_handler(SecurityError, _not_ours)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(StoreUnavailable, say_what_was_kept)
    app.register_error_handler(UnknownFormatError, _newer_than_this)
    app.register_error_handler(Exception, _broken)
    require_all_declared(app)
    return app


_SAYS = {
    400: "This page was not asked for by a form of this session. Go back, reload, and try again.",
    403: "This is not for your role.",
    404: "There is nothing here that you may see.",
    405: "This address does not take that.",
    422: "There is a sign in this that cannot be kept. Nothing was stored: go back, and write it without.",
    413: "That is too much text for one page, or too large a file.",
}


def _not_ours(_error: SecurityError) -> tuple[str, int, dict[str, str]]:
    """A host that is none of ours: no page can be made, for its links would need the host."""
    return "This host is not served here.", 400, {"Content-Type": "text/plain; charset=utf-8"}


def _refused(error: HTTPException) -> ResponseReturnValue:
    instead = page_instead() if isinstance(error, MethodNotAllowed) else None
    if instead:
        return redirect(instead, 303)
    code = error.code or 500
    return render_template("parts/refused.html", says=_SAYS.get(code, "That could not be done.")), code


def _newer_than_this(error: UnknownFormatError) -> tuple[str, int]:
    """A newer version of the program has worked on this database: nothing is guessed, and nothing changed."""
    _log.error("unknown format")
    says = f"Nothing was stored: {error.says}. Tell whoever runs this program."
    return render_template("parts/refused.html", says=says), 503


def _broken(error: Exception) -> tuple[str, int]:
    """A bug or a lost machine: nothing was stored, and the page says so without any detail."""
    _log.error("unhandled %s at %s", type(error).__name__, place(error))
    return render_template(
        "parts/refused.html", says="Something failed, and nothing was stored. Reload to see the true state."
    ), 500
