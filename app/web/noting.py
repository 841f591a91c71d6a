"""Each request is a line of the log and a count: its route and never its address, its answer, its time."""

import logging
import secrets
import time

from flask import Flask, Response, current_app, g, request

from app.storage import StoreUnavailable
from app.web import metrics
from app.web.access import access_of
from app.web.log_lines import place, request_id

_log = logging.getLogger(__name__)

_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_ERRORS, _OUR_ERRORS = 400, 500


def begin() -> None:
    """Before everything else of a request."""
    # Of a source of its own: the ids and tokens of what is stored do not depend on what is logged.
    request_id.set(secrets.token_bytes(8).hex())
    g.began_to_answer = time.perf_counter()


def end(response: Response) -> Response:
    """After everything else of a request."""
    took = time.perf_counter() - g.began_to_answer
    method = request.method if request.method in _METHODS else "another"
    metrics.ANSWERS.labels(method, route(), f"{response.status_code // 100}xx").inc()
    metrics.ANSWER_SECONDS.labels(route()).observe(took)
    level = logging.ERROR if response.status_code >= _OUR_ERRORS else logging.INFO
    if response.status_code >= _ERRORS or not _asks_by_itself():
        told = {
            "method": method,
            "route": route(),
            "status": response.status_code,
            "ms": round(took * 1000, 1),
        }
        _log.log(level, "answered", extra={"told": told})
    return response


def count_lost_database(error: StoreUnavailable) -> None:
    """The database was not there for something."""
    metrics.DATABASE_ERRORS.labels("nothing written" if error.outcome_known else "not known").inc()


def lost_database(error: StoreUnavailable) -> None:
    """The same, with a line of the log; what the database says itself may quote a row."""
    count_lost_database(error)
    _log.error("database: %s, at %s", error, place(error))


def sign_in_failed() -> None:
    """Somebody was not let in."""
    metrics.SIGN_IN_FAILURES.inc()


def route() -> str:
    """The template of the address that was asked for: what stands in its places is an id."""
    return request.url_rule.rule if request.url_rule else "none"


def _asks_by_itself() -> bool:
    """Files of a page, and pages that ask each second: they would hide all others."""
    endpoint = request.endpoint
    return endpoint == "static" or (endpoint is not None and not access_of(current_app, endpoint).counts)


def prepare(app: Flask) -> None:
    """Hook it into an application, before anything else is."""
    app.before_request(begin)
    app.after_request(end)
    app.teardown_request(_forget)


def _forget(_error: BaseException | None) -> None:
    request_id.set("")
