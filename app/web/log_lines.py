"""The server's log: one JSON object a line, in which no value of a patient and no id of a check can stand.

A few lines of our own in the place of a library: what matters is what is left out. A trace quotes values, an
address names a check, and what other libraries say may hold either; of these only kind and place are told.
"""

import json
import logging
import sys
import threading
from contextvars import ContextVar
from datetime import UTC, datetime
from pathlib import Path
from traceback import walk_tb
from types import TracebackType

from app.config import root

# The request that a thread answers; blank between two.
request_id: ContextVar[str] = ContextVar("request_id", default="")

_OURS, _SERVER = "app", "gunicorn"
# What the server that runs ours says above the level of its daily life, and that quotes nothing of a request.
_OF_PROCESSES = (
    "WORKER TIMEOUT",
    "Worker (pid:",
    "Connection in use:",
    "Can't connect to",
    "Invalid address:",
)


class Lines(logging.Formatter):
    """Time, level, process, request, and what is said; of an exception its kind and its place."""

    def format(self, record: logging.LogRecord) -> str:
        """One record as one line."""
        kind, error, trace = record.exc_info or (None, None, None)
        line = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "process": record.process,
            "request": request_id.get(),
            "from": record.name,
            "says": _says(record),
            **({"kind": kind.__name__, "at": place(error, trace)} if kind else {}),
            **getattr(record, "told", {}),
        }
        return json.dumps({name: told for name, told in line.items() if told != ""})


def _says(record: logging.LogRecord) -> str:
    """What may be told of what was said."""
    by = record.name.partition(".")[0]
    is_daily = logging.INFO <= record.levelno < logging.WARNING
    if by == _OURS or (by == _SERVER and (is_daily or str(record.msg).startswith(_OF_PROCESSES))):
        return record.getMessage()
    return "left out: it may quote a request"


def place(error: BaseException | None, trace: TracebackType | None = None) -> str:
    """Where an exception was raised: the last line of ours that it came through, without any value."""
    frames = list(walk_tb(trace or (error.__traceback__ if error else None)))
    places = [(Path(frame.f_code.co_filename), line) for frame, line in frames]
    ours = [(file.relative_to(root() / "app"), line) for file, line in places if _is_ours(file)]
    return f"{ours[-1][0]}:{ours[-1][1]}" if ours else ""


def _is_ours(file: Path) -> bool:
    return file.is_relative_to(root() / "app")


def log_in_lines(least: int = logging.INFO) -> None:
    """From now on whatever this process logs, warns of or fails in beside a request is such a line."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Lines())
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)
    logging.getLogger(_OURS).setLevel(least)
    logging.captureWarnings(capture=True)
    threading.excepthook = _of_thread


def _of_thread(failed: threading.ExceptHookArgs) -> None:
    logging.getLogger(__name__).error(
        "a thread ended: %s at %s", failed.exc_type.__name__, place(failed.exc_value, failed.exc_traceback)
    )
